//! The divisor of a serial port's clock, where the driver lets it be set (Linux, ports of
//! the 8250 family).

use super::port::OsPort;
use serde::{Deserialize, Serialize};

/// The speed that stands for "the divisor that was set" (Linux serial core).
pub(super) const MARKER_BAUD: u32 = 38_400;

/// A clock and what it is divided by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Divisor {
    /// Modulation rate of the undivided clock, baud.
    pub(super) clock_baud: u32,
    /// 1 to 65535.
    pub(super) by: u32,
}

impl Divisor {
    /// The nearest to a speed, baud, if the 16 bits of the register hold it.
    pub(super) fn nearest(clock_baud: u32, baud: f64) -> Option<Self> {
        let by = (f64::from(clock_baud) / baud).round();
        (1.0..=65_535.0).contains(&by).then_some(Divisor {
            clock_baud,
            by: by as u32,
        })
    }
}

/// Sets the divisor nearest to a speed and reads it back; `None` where the port has none.
#[cfg(target_os = "linux")]
pub(super) fn set(port: &OsPort, baud: f64) -> Option<Divisor> {
    linux::set(port, baud)
}

/// Other systems offer no divisor.
#[cfg(not(target_os = "linux"))]
pub(super) fn set(_port: &OsPort, _baud: f64) -> Option<Divisor> {
    None
}

/// The divisor as it was found before another one was set, which outlives the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Borrowed {
    flags: i32,
    divisor: i32,
}

/// What [`set`] will change for this speed; `None` where it changes nothing.
pub(super) fn found(port: &OsPort, baud: f64) -> Option<Borrowed> {
    #[cfg(target_os = "linux")]
    return linux::found(port, baud);
    #[cfg(not(target_os = "linux"))]
    return None.filter(|_: &Borrowed| (port, baud).1.is_nan());
}

/// Puts back what was found. Where that fails nothing can be done.
pub(super) fn give_back(port: &OsPort, borrowed: Borrowed) {
    #[cfg(target_os = "linux")]
    linux::give_back(port, borrowed);
    #[cfg(not(target_os = "linux"))]
    let _ = (port, borrowed);
}

#[cfg(target_os = "linux")]
mod linux {
    use super::{Borrowed, Divisor, OsPort};
    use std::os::fd::AsRawFd;

    /// Of `linux/serial.h`: the speed is the divisor's where 38 400 baud is set.
    const SPEED_CUSTOM: i32 = 0x0030;
    const SPEED_MASK: i32 = 0x1030;
    /// Of `asm-generic/ioctls.h`.
    const GET: libc::c_ulong = 0x541E;
    const SET: libc::c_ulong = 0x541F;

    /// `struct serial_struct` of `linux/serial.h`; names as there.
    #[repr(C)]
    #[derive(Clone, Copy, Default)]
    struct SerialStruct {
        kind: i32,
        line: i32,
        port: u32,
        irq: i32,
        flags: i32,
        xmit_fifo_size: i32,
        custom_divisor: i32,
        baud_base: i32,
        close_delay: u16,
        io_type: u8,
        reserved: u8,
        hub6: i32,
        closing_wait: u16,
        closing_wait2: u16,
        iomem_base: usize,
        iomem_reg_shift: u16,
        port_high: u32,
        iomap_base: libc::c_ulong,
    }

    /// The driver's state, its clock, and the divisor nearest to a speed.
    fn wanted(port: &OsPort, baud: f64) -> Option<(SerialStruct, u32, Divisor)> {
        let mut state = SerialStruct::default();
        call(port, GET, &mut state)?;
        // Kind 0 is "unknown", which USB adapters say: their divisors mean other things.
        let clock = u32::try_from(state.baud_base).ok()?;
        let wanted = Divisor::nearest(clock, baud).filter(|_| state.kind != 0)?;
        Some((state, clock, wanted))
    }

    pub(super) fn found(port: &OsPort, baud: f64) -> Option<Borrowed> {
        wanted(port, baud).map(|(state, ..)| Borrowed {
            flags: state.flags,
            divisor: state.custom_divisor,
        })
    }

    pub(super) fn give_back(port: &OsPort, borrowed: Borrowed) {
        let mut state = SerialStruct::default();
        if call(port, GET, &mut state).is_some() {
            state.flags = (state.flags & !SPEED_MASK) | (borrowed.flags & SPEED_MASK);
            state.custom_divisor = borrowed.divisor;
            let _ = call(port, SET, &mut state);
        }
    }

    pub(super) fn set(port: &OsPort, baud: f64) -> Option<Divisor> {
        let (mut state, clock, wanted) = wanted(port, baud)?;
        state.flags = (state.flags & !SPEED_MASK) | SPEED_CUSTOM;
        state.custom_divisor = wanted.by as i32;
        call(port, SET, &mut state)?;
        call(port, GET, &mut state)?;
        let taken = state.flags & SPEED_MASK == SPEED_CUSTOM && state.custom_divisor > 0;
        taken.then_some(Divisor {
            clock_baud: clock,
            by: state.custom_divisor as u32,
        })
    }

    /// Exchanges the state with the driver; `None` where it has none.
    #[allow(
        unsafe_code,
        reason = "no library wraps these two calls, and 45.45 baud can be set no other way"
    )]
    fn call(port: &OsPort, request: libc::c_ulong, state: &mut SerialStruct) -> Option<()> {
        // SAFETY: the port is open, and both calls read or write one serial_struct, which
        // `SerialStruct` is, field for field.
        let done =
            unsafe { libc::ioctl(port.as_raw_fd(), request as _, state as *mut SerialStruct) };
        (done == 0).then_some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bench electrics: 2534 at 115 200 baud; 2534 gives +0.016 %, 2535 -0.024 %.
    #[test]
    fn nearest_is_that_of_the_handbook() {
        let found = Divisor::nearest(115_200, 1.0 / 0.022);
        let expected = Divisor {
            clock_baud: 115_200,
            by: 2534,
        };
        assert_eq!(found, Some(expected));
        assert_eq!(Divisor::nearest(115_200, 1.0), None);
        assert_eq!(Divisor::nearest(115_200, 1e6), None);
        assert_eq!(Divisor::nearest(115_200, 0.0), None);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_pty_has_no_divisor() {
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        assert_eq!(set(&slave, 45.45), None);
        assert_eq!(found(&slave, 45.45), None);
    }
}
