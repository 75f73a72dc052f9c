//! Language: joins the reading as a witness, after the signal was heard.
pub mod reader;
