//! Look-alikes: what people take for damage and is not.
