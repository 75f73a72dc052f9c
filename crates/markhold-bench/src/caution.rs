//! Cautions, shown wherever their subject is touched. Common practice; local codes and
//! the advice of licensed people come first.

/// For every page about a running machine.
pub const MOVING_PARTS: &str = "A page printer has fast, strong moving parts. Switch the motor off and pull the plug before \
reaching in; keep fingers, hair, sleeves and ties away while it runs; make adjustments as its manual says.";

/// For every page about a loop and its supply.
pub const LOOP: &str = "A loop supply can kill, and its capacitors stay charged after it is switched off. Work on it only with \
power off, discharged and fused, and only if you are competent to; keep the loop apart from signal ground and from \
the computer (opto-coupler or relay rated for the voltage). Wiring rules of your country and licensed electricians have the last word.";

/// For every page about mains.
pub const MAINS: &str = "Mains wiring, motor circuits and earthing follow your local electrical code; have them done or \
checked by a licensed electrician.";
