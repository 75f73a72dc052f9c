//! Laws of line discipline, for any machine and any copy: nothing is lost or doubled except
//! by rule, no line is longer than the machine, the carriage always has its time.
#![allow(missing_docs, reason = "tests")]

mod common;

use common::{lines_by_hand, typed_by_hand};
use markhold_code::{Code, ShiftMachine, Symbol};
use markhold_page::{
    AtMargin, Blank, Copied, Discipline, Figures, Fill, LineEnding, Machine, Order, Ordered,
    discipline, print, render::text::text, timed,
};
use proptest::prelude::*;

fn machines() -> impl Strategy<Value = Machine> {
    let ends = [
        "CR LF",
        "CR CR LF",
        "CR CR LF LTRS",
        "LF CR",
        "LTRS LF CR CR BLANK",
    ];
    let fills = [Fill::Letters, Fill::Return, Fill::Blank, Fill::Hold];
    let paper = (
        20u16..100,
        any::<bool>(),
        0.0f64..2.0,
        any::<bool>(),
        any::<bool>(),
    );
    let line = (
        prop::sample::select(vec![1.0 / 0.022, 50.0, 74.2, 100.0]),
        prop::sample::select(ends.to_vec()),
        prop::sample::select(fills.to_vec()),
        any::<bool>(),
        any::<bool>(),
    );
    let copy = (0u16..40, any::<bool>(), 0u16..4);
    (paper, line, copy).prop_map(|(paper, line, copy)| Machine {
        columns: paper.0,
        margin_lamp: 0,
        at_margin: if paper.1 {
            AtMargin::NewLine
        } else {
            AtMargin::PileUp
        },
        return_s: paper.2,
        figures: if paper.3 { Figures::Us } else { Figures::Ita2 },
        unshift_on_space: paper.4,
        blank: Blank::Still,
        rate_baud: line.0,
        line_end: LineEnding::parse(line.1).unwrap(),
        fill: line.2,
        shift_after_space: line.3,
        shift_after_line: line.4,
        longest_word: copy.0,
        motor: copy.1,
        empty_lines: copy.2,
        garble_stop: 0,
        ..Machine::default()
    })
}

/// Text of both rows; long words and runs of spaces are common.
fn texts() -> impl Strategy<Value = String> {
    proptest::string::string_regex("([A-Z0-9.,/]{1,9}|[A-Z]{10,120}| {1,3}| {1,60}|\r?\n){0,60}")
        .expect("a pattern")
}

/// Any symbols, doubtful or not, with time between them.
fn copies() -> impl Strategy<Value = Vec<Copied>> {
    let symbols = prop_oneof![
        6 => prop::sample::select(('A'..='Z').chain('0'..='9').collect::<Vec<_>>())
            .prop_map(Symbol::Print),
        2 => Just(Symbol::Space),
        1 => prop::sample::select(vec![
            Symbol::CarriageReturn, Symbol::LineFeed, Symbol::Bell, Symbol::Letters,
            Symbol::Figures, Symbol::Blank, Symbol::WhoAreYou,
        ]),
    ];
    let one = (
        symbols,
        any::<bool>(),
        prop_oneof![9 => 0.0f64..0.3, 1 => 0.0f64..90.0],
    );
    prop::collection::vec(one, 0..300).prop_map(|all| {
        let mut at_s = 0.0;
        let copied = |(symbol, doubtful, wait): (Symbol, bool, f64)| {
            at_s += wait;
            Copied {
                symbol,
                at_s,
                probability: if doubtful { 0.5 } else { 1.0 },
                doubtful,
            }
        };
        all.into_iter().map(copied).collect()
    })
}

/// What the machine reads: symbols with the times at which they begin.
fn read(orders: &[Ordered], machine: &Machine) -> Vec<(f64, Symbol)> {
    let mut shift = ShiftMachine::new(machine.figures, machine.unshift_on_space);
    // It may have stood in either shift before.
    shift.receive(Code::FIGURES);
    timed(orders, machine.speed())
        .map(|(at_s, code, _)| (at_s, shift.receive(code)))
        .collect()
}

fn printed(symbols: impl IntoIterator<Item = Symbol>) -> String {
    let print = |symbol| match symbol {
        Symbol::Print(c) => Some(c),
        _ => None,
    };
    symbols.into_iter().filter_map(print).collect()
}

/// The shortest time from a first carriage return to the next step of the carriage, s.
fn shortest_return_s(read: &[(f64, Symbol)]) -> f64 {
    let (mut returned, mut away, mut shortest) = (None, true, f64::INFINITY);
    for &(at_s, symbol) in read {
        match symbol {
            Symbol::CarriageReturn if away => (returned, away) = (Some(at_s), false),
            Symbol::Print(_) | Symbol::Space => {
                away = true;
                shortest = returned
                    .take()
                    .map_or(shortest, |r: f64| shortest.min(at_s - r));
            }
            _ => {}
        }
    }
    shortest
}

fn orders(machine: &Machine, copy: &[Copied]) -> Vec<Ordered> {
    discipline(machine, copy.iter().copied()).unwrap()
}

/// As in live copy: time passes between the characters.
fn live(machine: &Machine, copy: &[Copied]) -> Vec<Ordered> {
    let mut discipline = Discipline::new(machine).unwrap();
    let mut out = Vec::new();
    for (copied, next) in copy.iter().zip(copy.iter().skip(1).chain(copy.last())) {
        discipline.take(copied, &mut out);
        discipline.pass(copied.at_s + (next.at_s - copied.at_s) / 2.0, &mut out);
    }
    discipline.finish(&mut out);
    out
}

proptest! {
    #[test]
    fn any_text_is_what_a_person_would_type(machine in machines(), copy in texts()) {
        let copied: Vec<Copied> = Copied::of_text(&copy, 0.0).collect();
        let page = print(&machine, &orders(&machine, &copied));
        let by_hand = typed_by_hand(&lines_by_hand(&copy, &machine), &machine);
        prop_assert_eq!(text(&page), text(&by_hand));
    }

    #[test]
    fn nothing_is_lost_or_doubled(mut machine in machines(), copy in copies()) {
        let expected = printed(copy.iter().map(|copied| copied.symbol));
        machine.motor = false;
        for orders in [orders(&machine, &copy), live(&machine, &copy)] {
            let found = printed(read(&orders, &machine).into_iter().map(|r| r.1));
            prop_assert_eq!(&found, &expected);
        }
        // With a mark for doubt as many are printed; with a motor none that is sure is lost
        // once it runs.
        machine.doubt_mark = Some('-');
        let found = printed(read(&orders(&machine, &copy), &machine).into_iter().map(|r| r.1));
        prop_assert_eq!(found.len(), expected.len());
    }

    #[test]
    fn what_garble_takes_is_counted(
        mut machine in machines(), copy in copies(), stop in 1u16..5, resume in 1u16..5,
    ) {
        machine.garble_stop = stop;
        machine.garble_resume = resume;
        machine.garble_note = String::new();
        let mut discipline = Discipline::new(&machine).unwrap();
        let mut out = Vec::new();
        copy.iter().for_each(|copied| discipline.take(copied, &mut out));
        discipline.finish(&mut out);
        let given = printed(copy.iter().map(|c| c.symbol)).len() as u64;
        let found = printed(read(&out, &machine).into_iter().map(|r| r.1)).len() as u64;
        prop_assert!(found <= given && given - found <= discipline.left().garbled);
    }

    #[test]
    fn no_line_is_too_long_and_the_carriage_has_its_time(
        mut machine in machines(), copy in copies(), overprint: bool,
    ) {
        machine.overprint = overprint;
        for orders in [orders(&machine, &copy), live(&machine, &copy)] {
            let page = print(&machine, &orders);
            prop_assert_eq!(page.struck_in_return(), 0);
            prop_assert!(overprint || page.overstruck() == 0);
            let longest = page.lines.iter().map(|line| line.width()).max().unwrap_or(0);
            prop_assert!(longest <= usize::from(machine.columns));
            let shortest = shortest_return_s(&read(&orders, &machine));
            prop_assert!(shortest >= machine.return_s - 1e-6, "{}", shortest);
        }
    }

    #[test]
    fn the_motor_runs_whenever_a_code_is_sent(mut machine in machines(), copy in copies()) {
        machine.motor = true;
        machine.run_up_s = 2.5;
        for orders in [orders(&machine, &copy), live(&machine, &copy)] {
            let (mut runs, mut started) = (false, false);
            for ordered in &orders {
                match ordered.order {
                    Order::Motor(on) => {
                        prop_assert_ne!(runs, on);
                        (runs, started) = (on, on);
                    }
                    Order::Hold(seconds) if started => {
                        prop_assert_eq!(seconds, 2.5);
                        started = false;
                    }
                    Order::Hold(_) => {}
                    Order::Send(_) => prop_assert!(runs && !started),
                }
            }
            prop_assert!(!runs);
        }
    }

    #[test]
    fn every_character_of_copy_is_the_source_of_its_code(machine in machines(), copy in copies()) {
        let machine = Machine { motor: false, ..machine };
        let sources = orders(&machine, &copy).iter().filter(|o| o.source.is_some()).count();
        let given = copy.iter().filter(|c| matches!(c.symbol, Symbol::Print(_))).count();
        let bells = copy.iter().filter(|c| c.symbol == Symbol::Bell && !c.doubtful).count();
        prop_assert!((given..=given + bells).contains(&sources), "{} {}", sources, given);
    }
}
