//! Work in pieces on several threads, taken in order.

use std::num::NonZeroUsize;
use std::ops::Range;
use std::sync::mpsc::sync_channel;
use std::thread;

/// Finished pieces that a thread may be ahead of the one that is taken.
const AHEAD: usize = 2;

/// Threads that the machine has room for.
pub fn threads() -> NonZeroUsize {
    thread::available_parallelism().unwrap_or(NonZeroUsize::MIN)
}

/// Makes pieces on several threads, each with a state of its own, and takes them in order. Memory is
/// that of a few pieces a thread. Ends early where `take` fails.
pub fn in_order<S, T: Send, E>(
    pieces: Range<u64>,
    threads: NonZeroUsize,
    state: impl Fn() -> S + Sync,
    make: impl Fn(&mut S, u64) -> T + Sync,
    mut take: impl FnMut(T) -> Result<(), E>,
) -> Result<(), E> {
    let (state, make) = (&state, &make);
    thread::scope(|scope| {
        let makers: Vec<_> = (0..threads.get())
            .map(|maker| {
                let (send, receive) = sync_channel(AHEAD);
                let own = pieces.clone().skip(maker).step_by(threads.get());
                scope.spawn(move || {
                    let mut state = state();
                    for piece in own {
                        // Nobody takes any more.
                        if send.send(make(&mut state, piece)).is_err() {
                            break;
                        }
                    }
                });
                receive
            })
            .collect();
        for maker in (0..threads.get()).cycle().take((pieces.end - pieces.start) as usize) {
            // A maker that is gone has panicked, and the scope passes that on.
            let Ok(piece) = makers[maker].recv() else { break };
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
        for count in 1..5 {
            let threads = NonZeroUsize::new(count).unwrap();
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
