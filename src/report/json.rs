//! What the objects for programs share: fixed keys, SI units, full precision. Keys only gain company.

/// Version of their form.
pub const SCHEMA: u32 = 1;
