//! Teletraffic formulas as pure functions: what services send, and what a
//! shared resource makes of it.
//!
//! [`stream`] adds headers to packets; [`voice`] and [`circuit`] say which
//! packets calls and leased lines are cut into; [`packets`] counts frames on
//! Ethernet; [`marking`] names them. [`erlang`] sizes for calls, [`on_off`] for
//! users that are active now and then, [`queue`] for packets that wait,
//! [`sharing`] for elastic transfers. [`quality`] rates a voice path;
//! [`demand`] turns volumes sold into rates, and rates into later years' rates.
//!
//! Nothing here knows a network, a frame or a radio.
//!
//! Every function is total: outside the range that it states it gives the
//! nearest bound or a number that is not finite, and says which.

pub mod circuit;
pub mod demand;
pub mod erlang;
pub mod marking;
pub mod on_off;
pub mod packets;
pub mod quality;
pub mod queue;
pub mod sharing;
pub mod stream;
pub mod voice;
