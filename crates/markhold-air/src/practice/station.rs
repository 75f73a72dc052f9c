//! Who is on the practice band. Call signs begin with Q, which no country holds; places and
//! clubs are made up.

use crate::channel::Channel;
use crate::pace::{Gaps, Pace};
use crate::sender::{Sender, SenderModel, Sense};
use markhold_code::usual::RATES_BAUD;
use markhold_code::{EncodeOptions, FiguresRow, StartStop, encode_lossy};

/// One station on the practice band.
#[derive(Clone, Debug, PartialEq)]
pub struct PracticeStation {
    /// Its call sign.
    pub call: &'static str,
    /// What it is, for somebody who looks for it.
    pub what: &'static str,
    /// Radio frequency of its mark, Hz.
    pub mark_hz: f64,
    /// Space less mark, Hz of radio: below 0 for the usual case of mark above space.
    pub shift_hz: f64,
    /// Modulation rate and stop element.
    pub speed: StartStop,
    /// How characters follow each other.
    pub pace: Pace,
    /// What it sends, over and over.
    pub text: &'static str,
    /// Mean pause between two overs, s.
    pub pause_s: f64,
    /// How it makes its tones.
    pub model: SenderModel,
    /// What the ionosphere does.
    pub channel: Channel,
    /// Mean power, dB over that of the first station.
    pub level_db: f64,
}

impl PracticeStation {
    /// Radio frequency of its space, Hz.
    pub fn space_hz(&self) -> f64 {
        self.mark_hz + self.shift_hz
    }

    /// The middle of its tones, Hz of radio.
    pub fn middle_hz(&self) -> f64 {
        self.mark_hz + self.shift_hz / 2.0
    }

    /// The dial at which its tones lie where they usually do, Hz of radio: mark at 2125 Hz on
    /// the lower sideband (common practice).
    pub fn usual_dial_hz(&self) -> f64 {
        self.mark_hz + 2125.0
    }

    /// What keys its line, tones placed as on the air.
    pub(super) fn sender(&self) -> Sender {
        let sense = if self.shift_hz > 0.0 {
            Sense::LowerTone
        } else {
            Sense::HigherTone
        };
        Sender {
            codes: encode_lossy(self.text, FiguresRow::Us, EncodeOptions::default(), ' '),
            speed: self.speed,
            pace: self.pace,
            lead_in_s: 2.0,
            tail_s: 2.0,
            model: self.model,
            shift_hz: self.shift_hz.abs(),
            sense,
            channel: self.channel,
            ..Sender::default()
        }
    }
}

/// Everybody on the practice band, the easiest first.
pub fn stations() -> &'static [PracticeStation] {
    &STATIONS
}

const TAPE: Pace = Pace::Continuous;

static STATIONS: [PracticeStation; 4] = [
    PracticeStation {
        call: "Q7LMT",
        what: "Low Marsh Teleprinter Circle, evening bulletin",
        mark_hz: 7_041_200.0,
        shift_hz: -170.0,
        speed: StartStop::new(RATES_BAUD[0], 1.42),
        pace: TAPE,
        text: BULLETIN,
        pause_s: 12.0,
        model: SenderModel::PhaseContinuous,
        channel: Channel::MID_LATITUDE_QUIET,
        level_db: 0.0,
    },
    PracticeStation {
        call: "Q2KLO",
        what: "Kestrel Staithe harbour office, tides and weather",
        mark_hz: 7_036_600.0,
        shift_hz: -425.0,
        speed: StartStop::new(50.0, 1.5),
        pace: TAPE,
        text: HARBOUR,
        pause_s: 6.0,
        model: SenderModel::PhaseContinuous,
        channel: Channel::MID_LATITUDE_MODERATE,
        level_db: -3.0,
    },
    PracticeStation {
        call: "Q3WDN",
        what: "a net, typed by hand",
        mark_hz: 7_045_300.0,
        shift_hz: -170.0,
        speed: StartStop::new(RATES_BAUD[0], 1.42),
        pace: Pace::Keyboard {
            characters_per_second: 4.0,
            gaps: Gaps::LogNormal { sigma: 0.7 },
        },
        text: NET,
        pause_s: 9.0,
        model: SenderModel::TwoOscillators,
        channel: Channel::MID_LATITUDE_DISTURBED,
        level_db: -6.0,
    },
    PracticeStation {
        call: "Q9TUV",
        what: "an island station with mark below space",
        mark_hz: 7_032_400.0,
        shift_hz: 850.0,
        speed: StartStop::new(75.0, 1.5),
        pace: TAPE,
        text: ISLAND,
        pause_s: 8.0,
        model: SenderModel::PhaseContinuous,
        channel: Channel::Flat { spread_hz: 0.2 },
        level_db: -2.0,
    },
];

const BULLETIN: &str = "\
RYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRY
CQ CQ CQ DE Q7LMT Q7LMT Q7LMT

LOW MARSH TELEPRINTER CIRCLE
EVENING BULLETIN NR 214

1. THE SPRING MEETING IS ON SATURDAY 11 APRIL IN THE OLD
   FERRY HOUSE AT KESTREL STAITHE. DOORS OPEN AT 1400. BRING
   YOUR PAPER, THERE IS TAPE FOR ALL.

2. Q1ABC HAS FINISHED THE NEW PUNCH AND WRITES: THE DIES WERE
   WORN BY 0.3 MM, EVERY HOLE IS NOW ROUND. PLANS ON REQUEST.

3. THE SUNDAY NET MOVES TO 1015 UTC FROM 5 APRIL. CONTROL WILL
   BE Q2KLO, RELIEF Q5EFG.

4. FOR SALE: ONE REPERFORATOR, 50 BAUD, COVER MISSING. FREE TO
   A GOOD HOME. ASK Q4PQR.

THAT IS ALL FOR TONIGHT. CALLS NOW, PLEASE.\u{7}
Q7LMT STANDING BY   KKK
";

const HARBOUR: &str = "\
DE Q2KLO Q2KLO  KESTREL STAITHE HARBOUR OFFICE

WIND NORTHWEST 4, LATER 5 TO 6. SHOWERS. GOOD, IN SHOWERS
MODERATE. GLASS 1013 RISING.

TIDES     HIGH  0412  3.8 M    LOW  1027  0.9 M
          HIGH  1638  4.0 M    LOW  2251  0.7 M

THE BUOY AT THE SECOND BEND IS UNLIT. THE FERRY LEAVES THE
NORTH STEPS UNTIL FRIDAY.

NEXT AT THE FULL HOUR.  Q2KLO
";

const NET: &str = "\
Q5EFG Q5EFG DE Q3WDN Q3WDN  GOOD EVENING JON
YOU ARE FINE HERE NOW, SOME FADING WITH A MINUTE BETWEEN.
THE OLD PRINTER RUNS AGAIN, IT WANTED ONLY A CLEAN CLUTCH AND
TWO DROPS OF OIL. HOW IS THE BELT OF YOURS?
BTU Q5EFG DE Q3WDN  KKK
";

const ISLAND: &str = "\
VVV DE Q9TUV  GREY HOLM ISLAND
THIS STATION SENDS WITH THE TONES THE OTHER WAY ROUND: IF YOU
READ THIS ON THE LOWER SIDEBAND YOUR RECEIVER TURNED IT OVER.
BIRDS TODAY: 214 TERNS, 61 PUFFINS, 1 LOST PIGEON (RING 3070).
LAMP OIL FOR 9 WEEKS. MAIL BOAT EXPECTED THURSDAY.
";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::Controls;

    #[test]
    fn every_station_can_be_sent_and_reached() {
        let (low, high) = Controls::DIAL_HZ;
        for station in stations() {
            assert_eq!(station.sender().check(station.call), Ok(()));
            assert!(station.call.starts_with('Q') && station.text.contains(station.call));
            assert!(
                (low..high).contains(&station.usual_dial_hz()),
                "{}",
                station.call
            );
        }
    }

    #[test]
    fn every_text_is_in_the_alphabet() {
        for station in stations() {
            let told =
                markhold_code::encode(station.text, FiguresRow::Us, EncodeOptions::default());
            assert_eq!(told.err(), None, "{}", station.call);
        }
    }

    #[test]
    fn stations_do_not_cover_each_other() {
        let ends = |s: &PracticeStation| {
            let (a, b) = (s.mark_hz, s.space_hz());
            (a.min(b), a.max(b))
        };
        for (k, a) in stations().iter().enumerate() {
            for b in &stations()[k + 1..] {
                let apart = (ends(a).0 - ends(b).1).max(ends(b).0 - ends(a).1);
                assert!(apart > 2000.0, "{} and {}: {apart} Hz", a.call, b.call);
            }
        }
    }
}
