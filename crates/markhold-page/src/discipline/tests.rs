//! Copy in, pages out: one test for every rule.

use super::*;
use crate::page::print;
use crate::render::text::text;

fn machine() -> Machine {
    Machine {
        columns: 20,
        margin_lamp: 0,
        longest_word: 10,
        ..Machine::default()
    }
}

fn printed(machine: &Machine, copy: impl IntoIterator<Item = Copied>) -> String {
    let page = print(machine, &discipline(machine, copy).unwrap());
    assert_eq!(page.struck_in_return(), 0);
    // The machine begins with a new line.
    text(&page).strip_prefix('\n').unwrap().to_string()
}

/// A character before a `~` is doubtful.
fn doubtful(text: &str) -> Vec<Copied> {
    let next = text.chars().skip(1).chain([' ']);
    let pairs = text.chars().zip(next).filter(|(c, _)| *c != '~');
    pairs
        .flat_map(|(c, next)| {
            let sure = Copied::of_text(c.encode_utf8(&mut [0; 4]), 0.0).next();
            sure.map(|sure| Copied {
                doubtful: next == '~',
                probability: if next == '~' { 0.4 } else { 1.0 },
                ..sure
            })
        })
        .collect()
}

#[test]
fn words_are_kept_whole() {
    let copy = Copied::of_text("THE SPRING MEETING IS ON SATURDAY", 0.0);
    assert_eq!(
        printed(&machine(), copy),
        "THE SPRING MEETING\nIS ON SATURDAY\n\n"
    );
}

#[test]
fn what_the_machine_lacks_is_replaced_visibly() {
    let mut machine = machine();
    machine.lacks = "#".into();
    let copy = Copied::of_text("café 5% #1 日", 0.0);
    assert_eq!(printed(&machine, copy), "CAFE 5-0/0 NR 1 ?\n\n");
}

#[test]
fn doubt_may_be_marked() {
    let mut machine = machine();
    assert_eq!(printed(&machine, doubtful("AB~C")), "ABC\n\n");
    machine.doubt_mark = Some('-');
    assert_eq!(printed(&machine, doubtful("AB~C")), "A-C\n\n");
}

#[test]
fn doubtful_characters_are_not_spelled_out() {
    assert_eq!(printed(&machine(), doubtful("A=B")), "A EQUALS B\n\n");
    assert_eq!(printed(&machine(), doubtful("A=~B")), "A?B\n\n");
}

#[test]
fn runaway_garble_stops_and_good_copy_goes_on() {
    let mut machine = machine();
    machine.garble_stop = 4;
    let garble = "X~".repeat(9);
    let copy = doubtful(&format!("GOOD {garble}A{garble}FINE AGAIN"));
    assert_eq!(
        printed(&machine, copy.clone()),
        "GOOD XXXX ...\nFINE AGAIN\n\n"
    );
    let mut discipline = Discipline::new(&machine).unwrap();
    let mut orders = Vec::new();
    copy.iter()
        .for_each(|copied| discipline.take(copied, &mut orders));
    // Five and nine doubtful ones, and the single sure one between them.
    assert_eq!(discipline.left().garbled, 15);
    machine.garble_stop = 0;
    let all = printed(&machine, copy).replace(['\n', ' '], "");
    assert_eq!(all.len(), 4 + 9 + 1 + 9 + 9);
}

#[test]
fn a_machine_at_rest_starts_only_for_good_copy() {
    let machine = Machine {
        motor: true,
        run_up_s: 2.0,
        ..machine()
    };
    let orders = discipline(&machine, doubtful("X~X~AX~X~")).unwrap();
    assert_eq!(orders, []);
    let orders: Vec<Order> = discipline(&machine, doubtful("X~ABC"))
        .unwrap()
        .into_iter()
        .map(|ordered| ordered.order)
        .collect();
    assert_eq!(orders[..2], [Order::Motor(true), Order::Hold(2.0)]);
    assert_eq!(orders.last(), Some(&Order::Motor(false)));
    assert_eq!(printed(&machine, doubtful("X~ABC")), "ABC\n\n");
}

#[test]
fn short_good_copy_is_never_lost() {
    let machine = Machine {
        motor: true,
        ..machine()
    };
    assert_eq!(printed(&machine, Copied::of_text("K", 0.0)), "K\n\n");
    let mut discipline = Discipline::new(&machine).unwrap();
    let mut orders = Vec::new();
    discipline.take(&Copied::sure(Symbol::Print('K'), 7.0), &mut orders);
    assert_eq!(orders, []);
    discipline.pass(7.0 + machine.word_hold_s, &mut orders);
    assert!(orders.iter().any(|ordered| ordered.source.is_some()));
}

#[test]
fn bells_are_limited_and_doubtful_ones_are_silent() {
    let machine = Machine {
        bells_per_minute: 3,
        ..machine()
    };
    let rings = |copy: Vec<Copied>| {
        print(&machine, &discipline(&machine, copy).unwrap())
            .bells
            .len()
    };
    let many = |at_s| Copied::of_text("\u{7}\u{7}\u{7}\u{7}\u{7}", at_s);
    assert_eq!(rings(many(0.0).collect()), 3);
    assert_eq!(rings(many(0.0).chain(many(59.0)).collect()), 3);
    assert_eq!(rings(many(0.0).chain(many(61.0)).collect()), 6);
    assert_eq!(rings(doubtful("\u{7}~")), 0);
}

#[test]
fn the_motor_rests_after_its_time() {
    let machine = Machine {
        motor: true,
        motor_off_after_s: 30.0,
        ..machine()
    };
    let mut discipline = Discipline::new(&machine).unwrap();
    let mut orders = Vec::new();
    for copied in Copied::of_text("GOOD EVENING", 0.0) {
        discipline.take(&copied, &mut orders);
    }
    let played: f64 = orders
        .iter()
        .map(|o| o.order.lasts_s(machine.speed()))
        .sum();
    let before = orders.len();
    discipline.pass(played + 29.9, &mut orders);
    assert_eq!(orders.len(), before);
    discipline.pass(played + 30.1, &mut orders);
    assert_eq!(
        orders[before..].iter().map(|o| o.order).collect::<Vec<_>>(),
        [Order::Motor(false)]
    );
    discipline.pass(played + 99.0, &mut orders);
    assert_eq!(orders.len(), before + 1);
    // The next text starts it again, and says its shift again.
    Copied::of_text("ABC", 200.0).for_each(|c| discipline.take(&c, &mut orders));
    let again: Vec<Order> = orders[before + 1..].iter().map(|o| o.order).collect();
    assert_eq!(again[..2], [Order::Motor(true), Order::Hold(1.5)]);
}

#[test]
fn a_held_word_is_let_go_after_its_time() {
    let machine = machine();
    let mut discipline = Discipline::new(&machine).unwrap();
    let mut orders = Vec::new();
    for copied in Copied::of_text("GOOD EVENING ALL", 10.0) {
        discipline.take(&copied, &mut orders);
    }
    // ALL begins where a word of ten would not fit, so it is held back.
    let before = orders.len();
    discipline.pass(12.9, &mut orders);
    assert_eq!(orders.len(), before);
    discipline.pass(13.0, &mut orders);
    let codes = orders[before..]
        .iter()
        .filter(|o| o.source.is_some())
        .count();
    assert_eq!(codes, 3);
    assert_eq!(text(&print(&machine, &orders)), "\nGOOD EVENING ALL\n");
}

#[test]
fn a_lost_line_feed_gives_a_new_line_unless_overprinting_is_wished() {
    let mut machine = machine();
    assert_eq!(printed(&machine, doubtful("ABC\rXY")), "ABC\nXY\n\n");
    assert_eq!(printed(&machine, doubtful("ABC\r~XY")), "ABCXY\n\n");
    machine.overprint = true;
    assert_eq!(printed(&machine, doubtful("ABC\rXY")), "ABC\rXY\n\n");
}

/// A letters shift sent while there is nothing to send takes the receiver out of figures; a
/// blank does not.
#[test]
fn what_follows_idle_codes_has_its_shift() {
    let sent = |idle: Code| {
        let mut discipline = Discipline::new(&machine()).unwrap();
        let mut orders = Vec::new();
        Copied::of_text("1", 0.0).for_each(|c| discipline.take(&c, &mut orders));
        let before = orders.len();
        discipline.idle(idle, &mut orders);
        Copied::of_text("2", 1.0).for_each(|c| discipline.take(&c, &mut orders));
        let code = |ordered: &Ordered| match ordered.order {
            Order::Send(code) => code.value(),
            other => panic!("{other:?}"),
        };
        orders[before..].iter().map(code).collect::<Vec<_>>()
    };
    // Letters shift, figures shift, 2; blank, 2.
    assert_eq!(sent(Code::LETTERS), [31, 27, 19]);
    assert_eq!(sent(Code::BLANK), [0, 19]);
}
