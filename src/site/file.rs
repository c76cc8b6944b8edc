//! Reading site files.
