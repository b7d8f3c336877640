//! A stop asked for from outside (Ctrl-C, the end of the session) while files are being written: held
//! back until what is half done is taken away, then passed on.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;
use signal_hook::low_level::emulate_default_handler;

#[cfg(unix)]
const STOPS: &[i32] = &[SIGINT, SIGTERM, signal_hook::consts::SIGHUP];
#[cfg(not(unix))]
const STOPS: &[i32] = &[SIGINT, SIGTERM];

/// While one of these lives, a stop is noted and does nothing. The program ends of it, as it would have
/// without, when the last thing declared after it is gone and it goes itself.
#[derive(Debug, Default)]
pub struct Held {
    asked: Arc<AtomicUsize>,
    over: Arc<AtomicBool>,
}

impl Held {
    /// From now on. Where the system takes no such request, a stop ends the program at once.
    pub fn now() -> Held {
        let held = Held::default();
        for stop in STOPS {
            let number = usize::try_from(*stop).unwrap_or(0);
            // In this order, so that a stop after the end still ends the program.
            let _ = flag::register_usize(*stop, Arc::clone(&held.asked), number);
            let _ = flag::register_conditional_default(*stop, Arc::clone(&held.over));
        }
        held
    }

    /// True when a stop was asked for.
    pub fn asked(&self) -> bool {
        self.asked.load(Ordering::SeqCst) != 0
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
        if let Ok(stop @ 1..) = i32::try_from(self.asked.load(Ordering::SeqCst)) {
            let _ = emulate_default_handler(stop);
        }
    }
}

/// A file that grows past what the system allows becomes an error that can be told, instead of the end
/// of the program.
pub fn tell_of_large_files() {
    #[cfg(unix)]
    {
        const SIGXFSZ: i32 = signal_hook::consts::signal::SIGXFSZ;
        let _ = flag::register(SIGXFSZ, Arc::default());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_is_noted_and_does_nothing_yet() {
        let held = Held::now();
        assert!(!held.asked());
        signal_hook::low_level::raise(SIGTERM).expect("a signal");
        assert!(held.asked());
        // Passed on, it would end the tests.
        held.asked.store(0, Ordering::SeqCst);
    }
}
