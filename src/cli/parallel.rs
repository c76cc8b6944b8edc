//! Work in pieces on several threads, taken in order.

use std::num::NonZeroUsize;
use std::ops::Range;
use std::sync::mpsc::sync_channel;
use std::thread;

/// Finished pieces that a thread may be ahead of the one that is taken.
const AHEAD: usize = 2;

/// Threads that the machine has room for.
pub fn threads() -> usize {
    thread::available_parallelism().map_or(1, NonZeroUsize::get)
}

/// Makes pieces on several threads, each with a state of its own, and takes them in order. Memory is
/// that of a few pieces a thread. Ends early where `take` fails. Where the system starts fewer threads, or
/// none, the pieces are the same.
pub fn in_order<S, T: Send, E>(
    pieces: Range<u64>,
    threads: usize,
    state: impl Fn() -> S + Sync,
    make: impl Fn(&mut S, u64) -> T + Sync,
    mut take: impl FnMut(T) -> Result<(), E>,
) -> Result<(), E> {
    let (state, make) = (&state, &make);
    let count = pieces.end.saturating_sub(pieces.start);
    thread::scope(|scope| {
        let mut makers = Vec::new();
        for maker in 0..threads.min(usize::try_from(count).unwrap_or(usize::MAX)) {
            let (send, receive) = sync_channel(AHEAD);
            // Which pieces are its own it hears once all are started.
            let (tell, hear) = sync_channel::<usize>(1);
            let pieces = pieces.clone();
            let work = move || {
                let Ok(makers) = hear.recv() else { return };
                let mut state = state();
                for piece in pieces.skip(maker).step_by(makers) {
                    // Nobody takes any more.
                    if send.send(make(&mut state, piece)).is_err() {
                        break;
                    }
                }
            };
            match thread::Builder::new().spawn_scoped(scope, work) {
                Ok(_) => makers.push((tell, receive)),
                Err(_) => break,
            }
        }
        if makers.is_empty() {
            let mut state = state();
            return pieces.into_iter().try_for_each(|piece| take(make(&mut state, piece)));
        }
        for (tell, _) in &makers {
            let _ = tell.send(makers.len());
        }
        for maker in (0..makers.len()).cycle().take(usize::try_from(count).unwrap_or(usize::MAX)) {
            // A maker that is gone has panicked, and the scope passes that on.
            let Ok(piece) = makers[maker].1.recv() else { break };
            take(piece)?;
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_come_in_order_and_end_early() {
        for threads in 0..5 {
            let mut taken = Vec::new();
            let square = |_: &mut (), piece: u64| piece * piece;
            let done = in_order(
                3..40,
                threads,
                || (),
                square,
                |piece| {
                    taken.push(piece);
                    Ok::<(), ()>(())
                },
            );
            assert_eq!(done, Ok(()));
            assert!(taken.iter().copied().eq((3..40).map(|piece| piece * piece)));
            let mut left = 5;
            let stopped = in_order(
                0..u64::MAX,
                threads,
                || (),
                square,
                |_| {
                    left -= 1;
                    if left == 0 { Err(()) } else { Ok(()) }
                },
            );
            assert_eq!(stopped, Err(()));
        }
    }
}
