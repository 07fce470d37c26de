//! Helpers shared by the end-to-end and house-rule tests.
