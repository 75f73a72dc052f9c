//! Language: joins the reading as a witness, after the signal was heard.
//!
//! * [`reader`]: the likeliest text behind doubtful characters.
//! * [`witness`]: what becomes of a signal's characters when language is asked too.
pub mod reader;
pub mod witness;
