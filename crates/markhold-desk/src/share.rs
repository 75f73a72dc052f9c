//! Telling the people in the room where the desk is.

use qrcode::{EcLevel, QrCode};
use std::net::{IpAddr, SocketAddr, UdpSocket};

/// The address under which this machine is reached from the local network, as far as its
/// routes tell; no packet is sent.
pub fn local_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    // An address for documentation (RFC 5737): connecting a datagram socket only asks
    // which way it would go.
    socket.connect(SocketAddr::from(([192, 0, 2, 1], 9))).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_unspecified() && !ip.is_loopback()).then_some(ip)
}

/// A code as it is shown, in two halves.
pub fn shown(code: &str) -> String {
    let half = code.len() / 2;
    format!("{}-{}", &code[..half], &code[half..])
}

/// The address with its code. The code stands behind `#`: browsers keep that to themselves.
pub fn link(ip: IpAddr, port: u16, code: &str) -> String {
    format!("http://{}/enter#{code}", SocketAddr::new(ip, port))
}

/// The link as a picture of half blocks, with its quiet margin; `None` if it is too long.
pub fn picture(link: &str) -> Option<String> {
    const MARGIN: isize = 2;
    let code = QrCode::with_error_correction_level(link, EcLevel::L).ok()?;
    let width = code.width() as isize;
    let modules = code.to_colors();
    let light = |x: isize, y: isize| {
        let inside = (0..width).contains(&x) && (0..width).contains(&y);
        !inside || modules[(y * width + x) as usize] == qrcode::Color::Light
    };
    let mut out = String::new();
    for y in (-MARGIN..width + MARGIN).step_by(2) {
        for x in -MARGIN..width + MARGIN {
            // Light modules are lit blocks, for the usual light writing on a dark terminal.
            out.push(match (light(x, y), light(x, y + 1)) {
                (true, true) => '\u{2588}',
                (true, false) => '\u{2580}',
                (false, true) => '\u{2584}',
                (false, false) => ' ',
            });
        }
        out.push('\n');
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_and_links_read_well() {
        assert_eq!(shown("ABCDEFGH"), "ABCD-EFGH");
        let link4 = link(IpAddr::from([192, 0, 2, 5]), 8045, "ABCDEFGH");
        assert_eq!(link4, "http://192.0.2.5:8045/enter#ABCDEFGH");
        let link6 = link("2001:db8::1".parse().expect("an address"), 80, "A");
        assert_eq!(link6, "http://[2001:db8::1]:80/enter#A");
    }

    /// The three corners of a QR code are squares of 7 modules (ISO/IEC 18004).
    #[test]
    fn the_picture_has_its_corners() {
        let picture = picture("http://192.0.2.5:8045/enter#ABCDEFGH").expect("short enough");
        let lines: Vec<Vec<char>> = picture.lines().map(|l| l.chars().collect()).collect();
        let width = lines[0].len();
        assert!(lines.iter().all(|l| l.len() == width));
        let corner = |from: usize| lines[1][from..from + 7].iter().collect::<String>();
        // The uppermost two rows of a corner: all dark, then only its sides.
        assert_eq!(corner(2), " \u{2584}\u{2584}\u{2584}\u{2584}\u{2584} ");
        assert_eq!(corner(width - 9), corner(2));
    }
}
