//! Results to bytes.
