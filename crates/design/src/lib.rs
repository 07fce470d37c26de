//! Design text to model and back.
