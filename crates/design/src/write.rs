//! Edits back into the text.
