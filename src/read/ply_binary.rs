//! Rows of a binary PLY.

use super::ply::{RowFault, Rows};
use super::ply_header::{Meaning, Property, Scalar, Shape};

/// The data of a binary PLY and how far they have been read.
pub(super) struct BinaryRows<'a> {
    data: &'a [u8],
    at: usize,
    big: bool,
}

impl<'a> BinaryRows<'a> {
    pub fn new(data: &'a [u8], big: bool) -> Self {
        BinaryRows { data, at: 0, big }
    }

    fn bytes<const N: usize>(&mut self) -> Result<[u8; N], RowFault> {
        let four = self
            .data
            .get(self.at..)
            .and_then(|rest| rest.first_chunk::<N>());
        let mut bytes = *four.ok_or(RowFault::End)?;
        if self.big {
            bytes.reverse();
        }
        self.at += N;
        Ok(bytes)
    }

    fn real(&mut self, scalar: Scalar) -> Result<f64, RowFault> {
        Ok(match scalar {
            Scalar::F32 => f64::from(f32::from_le_bytes(self.bytes()?)),
            Scalar::F64 => f64::from_le_bytes(self.bytes()?),
            whole => self.whole(whole)? as f64,
        })
    }

    fn whole(&mut self, scalar: Scalar) -> Result<i64, RowFault> {
        Ok(match scalar {
            Scalar::I8 => i64::from(i8::from_le_bytes(self.bytes()?)),
            Scalar::U8 => i64::from(u8::from_le_bytes(self.bytes()?)),
            Scalar::I16 => i64::from(i16::from_le_bytes(self.bytes()?)),
            Scalar::U16 => i64::from(u16::from_le_bytes(self.bytes()?)),
            Scalar::I32 => i64::from(i32::from_le_bytes(self.bytes()?)),
            Scalar::U32 => i64::from(u32::from_le_bytes(self.bytes()?)),
            Scalar::F32 | Scalar::F64 => match self.real(scalar)? {
                x if x.fract() == 0.0 && x.abs() < 9e15 => x as i64,
                _ => i64::MAX,
            },
        })
    }

    fn pass(&mut self, shape: Shape) -> Result<(), RowFault> {
        let length = match shape {
            Shape::One(one) => Some(one.size()),
            Shape::List(count, item) => self.list_length(count)?.checked_mul(item.size()),
        };
        let end = length.and_then(|length| self.at.checked_add(length));
        self.at = end
            .filter(|end| *end <= self.data.len())
            .ok_or(RowFault::End)?;
        Ok(())
    }

    /// A negative count reads as none.
    fn list_length(&mut self, count: Scalar) -> Result<usize, RowFault> {
        Ok(usize::try_from(self.whole(count)?).unwrap_or(0))
    }
}

impl Rows for BinaryRows<'_> {
    fn vertex(&mut self, properties: &[Property]) -> Result<[f64; 3], RowFault> {
        let mut point = [0.0; 3];
        for property in properties {
            match (property.meaning, property.shape) {
                // Adding zero folds -0 into 0.
                (Meaning::Coordinate(k), Shape::One(one)) => point[k] = self.real(one)? + 0.0,
                (_, shape) => self.pass(shape)?,
            }
        }
        Ok(point)
    }

    fn corners(&mut self, properties: &[Property], out: &mut Vec<i64>) -> Result<(), RowFault> {
        for property in properties {
            match (property.meaning, property.shape) {
                (Meaning::Corners, Shape::List(count, item)) => {
                    for _ in 0..self.list_length(count)? {
                        let corner = self.whole(item)?;
                        out.push(corner);
                    }
                }
                (_, shape) => self.pass(shape)?,
            }
        }
        Ok(())
    }

    fn skip(&mut self, properties: &[Property]) -> Result<(), RowFault> {
        properties.iter().try_for_each(|p| self.pass(p.shape))
    }

    fn offset(&self) -> usize {
        self.at
    }

    fn left(&self) -> usize {
        // Some writers end the file with a line feed.
        let rest = &self.data[self.at..];
        if rest.len() <= 2 { 0 } else { rest.len() }
    }
}
