//! The solver against ngspice, a circuit simulator that is not ours.
//!
//! Four sets of networks, each with its answers on record in `tests/spice/recorded/`:
//! - `guides`: three guides of `content/` in every state, netlists written by hand from their front matter;
//! - `networks`: random networks with parallel returns, of every element that the solver knows;
//! - `faults`: every bolted fault and every breaking current of all guides;
//! - `linear`: faults, opened branches and places along branches of random linear networks.
//!
//! Plain `cargo test` compares what we solve with the record. With ngspice installed,
//! `GOODGROUND_NGSPICE=live cargo test --test suite spice` runs it, and compares its answers with the record
//! and with ours; `GOODGROUND_NGSPICE=record` in its place writes the record anew.

mod deck;
mod faults;
mod guides;
mod linear;
mod networks;

pub mod random;

pub use faults::guides as guides_of_the_club;
pub use guides::circuit;
