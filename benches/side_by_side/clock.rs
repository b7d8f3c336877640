//! Commands and functions timed in turn, so that a machine that slows down slows all of them.

use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// What one run took.
#[derive(Clone, Copy, Debug, Default)]
pub struct Run {
    /// Seconds from start to end.
    pub wall: f64,
    /// Most memory held, bytes; 0 where the system does not tell.
    pub peak: u64,
}

/// Runs each thing once in turn, `rounds` times after one round that isn't counted, and gives the
/// median run of each.
pub fn in_turn(rounds: usize, things: &mut [&mut dyn FnMut() -> Run]) -> Vec<Run> {
    let mut runs: Vec<Vec<Run>> = things.iter().map(|_| Vec::new()).collect();
    for round in 0..=rounds {
        for (thing, runs) in things.iter_mut().zip(&mut runs) {
            let run = thing();
            if round > 0 {
                runs.push(run);
            }
        }
    }
    runs.into_iter()
        .map(|mut runs| {
            runs.sort_by(|a, b| a.wall.total_cmp(&b.wall));
            let peak = runs.iter().map(|r| r.peak).max().unwrap_or(0);
            Run {
                peak,
                ..runs[runs.len() / 2]
            }
        })
        .collect()
}

/// A command from start to exit, its answer thrown away.
pub fn command(program: &str, arguments: &[&str]) -> Run {
    let start = Instant::now();
    let mut child = Command::new(program)
        .args(arguments)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap_or_else(|e| panic!("{program}: {e}"));
    let status = format!("/proc/{}/status", child.id());
    let (peak, over) = (AtomicU64::new(0), AtomicBool::new(false));
    let (code, wall) = std::thread::scope(|scope| {
        scope.spawn(|| {
            while !over.load(Ordering::Relaxed) {
                // the most held so far, which only grows
                if let Some(now) = std::fs::read_to_string(&status)
                    .ok()
                    .and_then(|s| high_water(&s))
                {
                    peak.fetch_max(now, Ordering::Relaxed);
                }
                std::thread::sleep(Duration::from_millis(2));
            }
        });
        let code = child.wait();
        over.store(true, Ordering::Relaxed);
        (code, start.elapsed().as_secs_f64())
    });
    let code = code.unwrap_or_else(|e| panic!("{program}: {e}"));
    assert!(code.success(), "{program} {arguments:?}: {code}");
    Run {
        wall,
        peak: peak.into_inner(),
    }
}

fn high_water(status: &str) -> Option<u64> {
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib * 1024)
}

/// A function called once.
pub fn function(mut work: impl FnMut()) -> Run {
    let start = Instant::now();
    work();
    Run {
        wall: start.elapsed().as_secs_f64(),
        peak: 0,
    }
}
