//! Assemblies as input: which fields there are, the built-in files, a user's files, tables.

pub mod fields;
