//! How full a sector is: airtime, frame by frame on average over the busy hour.
//!
//! The way through: [`flow`] says what a plan sends, [`frame_budget`] what a
//! frame has room for, [`cost`] what one customer's services take of it, [`account`] adds
//! customers up, [`admission`] decides who gets in, and [`sector`] reports:
//! load by class, [`rates`] that customers may expect, [`room`] for more, and
//! the load in [`growth`]'s years and under other splits.
//!
//! One unit serves all: the slots of a frame. What is guaranteed is counted at
//! the modulation that holds with the design's fade margin, what is elastic at
//! the one that adaptation uses.

pub mod account;
pub mod admission;
pub mod cost;
mod findings;
pub mod flow;
pub mod frame_budget;
pub mod growth;
pub mod rates;
pub mod room;
pub mod sector;

pub(crate) use findings::findings;
