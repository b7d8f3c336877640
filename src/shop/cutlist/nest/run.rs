//! The pieces of one bar in a row, and which neighbours share a cut.

use super::{Bar, EndCut, Laid, Piece, Place, Plan, Rack, Tenths};

/// Room a piece takes in a bar however its neighbours are cut, a bar having room for its usable length
/// and one kerf: its length, a square cut, and a cut of its own at each mitred end.
pub fn rough(piece: &Piece, rack: &Rack) -> Tenths {
    let own: Tenths = piece
        .ends
        .iter()
        .filter(|end| end.kind > 0)
        .map(|end| end.kerf)
        .sum();
    piece.length + rack.kerf + own
}

/// The least room a piece can take: half of what each shared cut would save taken off.
pub fn lean(piece: &Piece, rack: &Rack) -> Tenths {
    let saved: Tenths = match rack.share {
        true => piece.ends.iter().map(|end| end.saving).sum(),
        false => 0,
    };
    (piece.length + rack.kerf).saturating_sub(saved.div_ceil(2))
}

/// Length from the end of one piece's box to the start of the next one's; less than nothing where a
/// mitre is shared.
fn step(before: &EndCut, after: &EndCut, rack: &Rack) -> (i64, bool) {
    let kerf = |end: &EndCut| if end.kind > 0 { end.kerf } else { rack.kerf } as i64;
    match (before.kind, after.kind) {
        (0, 0) => (rack.kerf as i64, false),
        (_, b) if b > 0 && b == before.mate && rack.share => {
            (kerf(before) - before.saving as i64, true)
        }
        _ => (kerf(before) + kerf(after), false),
    }
}

/// The pieces of `set` in a row, neighbours chosen so that mitres are shared where they can be, and the
/// length of the row. Places are counted from the start of the row.
pub fn row(pieces: &[Piece], set: &[usize], rack: &Rack) -> (Vec<Place>, i64) {
    let mut left = set.to_vec();
    let mut places: Vec<Place> = Vec::with_capacity(set.len());
    let mut used = 0i64;
    let mut open = EndCut::default();
    while !left.is_empty() {
        let first = places.is_empty();
        let (k, turned) = next(pieces, &left, &open, first);
        let piece = left.remove(k);
        let [a, b] = pieces[piece].ends;
        let (start, end) = if turned { (b, a) } else { (a, b) };
        let (gap, shared) = match first {
            true => (0, false),
            false => step(&open, &start, rack),
        };
        let at = used + gap;
        places.push(Place {
            piece,
            turned,
            at: at.max(0) as Tenths,
            shared,
        });
        used = at + pieces[piece].length as i64;
        open = end;
    }
    (places, used)
}

/// The next piece of a row and whether it is turned: one that shares the open cut if there is one, else
/// one that begins square, its other end mitred by preference.
fn next(pieces: &[Piece], left: &[usize], open: &EndCut, first: bool) -> (usize, bool) {
    let rank = |start: &EndCut, end: &EndCut| {
        let meets = !first && open.mate > 0 && start.kind == open.mate;
        let square = start.kind == 0 && (first || open.kind == 0);
        let odd = first && start.kind > 0 && start.kind != end.mate;
        match (meets, square) {
            (true, _) => u8::from(end.kind == 0),
            (_, true) => 2 + u8::from(end.kind == 0),
            _ => 4 + u8::from(odd),
        }
    };
    let mut best = (u8::MAX, 0, false);
    for (k, &i) in left.iter().enumerate() {
        let [a, b] = &pieces[i].ends;
        for (turned, rank) in [(false, rank(a, b)), (true, rank(b, a))] {
            if rank < best.0 {
                best = (rank, k, turned);
            }
        }
    }
    (best.1, best.2)
}

/// The pieces of `set` laid into a bar.
pub fn laid(pieces: &[Piece], set: &[usize], bar: &Bar, rack: &Rack) -> Laid {
    let (mut places, used) = row(pieces, set, rack);
    for place in &mut places {
        place.at += rack.trim;
    }
    let used = used.max(0) as Tenths + rack.trim;
    // the saw takes its width off what is left, too
    let last = places.last().map_or(rack.kerf, |p| {
        let end = &pieces[p.piece].ends[usize::from(!p.turned)];
        if end.kind > 0 { end.kerf } else { rack.kerf }
    });
    Laid {
        length: bar.length,
        places,
        left: bar.length.saturating_sub(used + last),
    }
}

/// Best fit decreasing with shared mitres, bars of the length that fills best, shrunk in the end.
pub fn pack_shared(pieces: &[Piece], able: &[usize], rack: &Rack) -> Plan {
    let room = |bar: usize| rack.usable(&rack.bars[bar]) as i64;
    let mut order = able.to_vec();
    order.sort_by_key(|&i| (std::cmp::Reverse(lean(&pieces[i], rack)), i));
    let mut lengths: Vec<usize> = (0..rack.bars.len()).collect();
    lengths.sort_by_key(|&bar| std::cmp::Reverse(rack.bars[bar].length));
    let mut count: Vec<Option<u32>> = rack.bars.iter().map(|bar| bar.count).collect();
    let mut bars: Vec<(usize, Vec<usize>)> = Vec::new();
    let mut unplaced = Vec::new();
    for i in order {
        let tried = bars.iter().enumerate().filter_map(|(k, (bar, set))| {
            let with: Vec<usize> = set.iter().copied().chain([i]).collect();
            let left = room(*bar) - row(pieces, &with, rack).1;
            (left >= 0).then_some((left, k))
        });
        if let Some((_, k)) = tried.min() {
            bars[k].1.push(i);
            continue;
        }
        let new = lengths
            .iter()
            .copied()
            .find(|&bar| count[bar] != Some(0) && room(bar) >= pieces[i].length as i64);
        match new {
            Some(bar) => {
                count[bar] = count[bar].map(|n| n - 1);
                bars.push((bar, vec![i]));
            }
            None => unplaced.push(i),
        }
    }
    for (bar, set) in &mut bars {
        let used = row(pieces, set, rack).1;
        let shorter = lengths
            .iter()
            .rev()
            .copied()
            .find(|&other| room(other) >= used && (count[other] != Some(0) || other == *bar));
        if let Some(other) = shorter.filter(|other| other != bar) {
            count[*bar] = count[*bar].map(|n| n + 1);
            count[other] = count[other].map(|n| n - 1);
            *bar = other;
        }
    }
    let laid = |(bar, set): &(usize, Vec<usize>)| laid(pieces, set, &rack.bars[*bar], rack);
    Plan {
        bars: bars.iter().map(laid).collect(),
        unplaced,
        least_bars: 0,
        least_length: 0,
    }
}
