//! The story: the stages in order.
