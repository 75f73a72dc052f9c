//! Kinds of text and of senders.

use crate::common::Draw;
use crate::sent::{Machine, Sent, encode};
use markhold_code::FiguresRow;
use rand::RngExt;
use rand::seq::IndexedRandom;

/// A kind of text, from a kind of sender.
pub struct Kind {
    pub name: String,
    machine: Machine,
    text: Box<dyn Fn(&mut Draw) -> String>,
}

impl Kind {
    pub fn send(&self, draw: &mut Draw) -> Vec<Sent> {
        encode(&(self.text)(draw), self.machine)
    }
}

/// Printed characters of a text, about.
const LENGTH: usize = 1500;

const HOLDS: Machine = Machine {
    row: FiguresRow::Ita2,
    repeats: false,
    unshifts: false,
};
const REPEATS: Machine = Machine {
    repeats: true,
    ..HOLDS
};
const UNSHIFTS: Machine = Machine {
    unshifts: true,
    ..HOLDS
};
const US: Machine = Machine {
    row: FiguresRow::Us,
    ..REPEATS
};

pub fn kinds(files: &[(String, String)]) -> Vec<Kind> {
    let mut kinds = Vec::new();
    let mut add = |name: &str, machine: Machine, text: fn(&mut Draw) -> String| {
        kinds.push(Kind {
            name: name.into(),
            machine,
            text: Box::new(text),
        });
    };
    add("random letters", HOLDS, |d| words(d, |d| letters(d, 3..9)));
    add("random letters, no spaces", HOLDS, |d| {
        letters(d, LENGTH..LENGTH + 1)
    });
    add("groups of five letters", HOLDS, |d| {
        words(d, |d| letters(d, 5..6))
    });
    add("rows: RYRY", HOLDS, |_| "RY".repeat(LENGTH / 2));
    add("rows: QWERTYUIOP", HOLDS, |_| {
        "QWERTYUIOP ASDFGHJKL ZXCVBNM\r\n".repeat(LENGTH / 30)
    });
    add("figures, shift holds", HOLDS, |d| words(d, figures));
    add("figures, shift repeated", REPEATS, |d| words(d, figures));
    add("figures, space unshifts", UNSHIFTS, |d| words(d, figures));
    add("calls", HOLDS, |d| words(d, call));
    add("reports, shift holds", HOLDS, reports);
    add("reports, shift repeated", REPEATS, reports);
    add("reports, space unshifts", UNSHIFTS, reports);
    add("prose", HOLDS, |d| {
        crate::common::message(d, LENGTH).replace('\n', "\r\n")
    });
    add("US signs", US, us_signs);
    add("ITA2 signs", HOLDS, ita2_signs);
    add("German", HOLDS, |d| sentences(d, &GERMAN));
    add("Spanish", HOLDS, |d| sentences(d, &SPANISH));
    add("Polish", HOLDS, |d| sentences(d, &POLISH));
    for (name, text) in files {
        let sentences: Vec<String> = text.lines().map(|l| l.to_uppercase()).collect();
        kinds.push(Kind {
            name: name.clone(),
            machine: HOLDS,
            text: Box::new(move |d| sentences_of(d, &sentences)),
        });
    }
    kinds
}

/// Words to a length, with line ends.
fn words(draw: &mut Draw, word: impl Fn(&mut Draw) -> String) -> String {
    let (mut text, mut line) = (String::new(), 0);
    while text.len() < LENGTH {
        let word = word(draw);
        line += word.len() + 1;
        text += &word;
        text += if line > 60 { "\r\r\n" } else { " " };
        line *= usize::from(line <= 60);
    }
    text
}

fn letters(draw: &mut Draw, count: std::ops::Range<usize>) -> String {
    let count = draw.random_range(count);
    (0..count)
        .map(|_| char::from(draw.random_range(b'A'..=b'Z')))
        .collect()
}

fn figures(draw: &mut Draw) -> String {
    let count = draw.random_range(3..6);
    (0..count)
        .map(|_| char::from(draw.random_range(b'0'..=b'9')))
        .collect()
}

fn call(draw: &mut Draw) -> String {
    let digit = draw.random_range(0..10);
    format!("Q{}{digit}{}", letters(draw, 0..2), letters(draw, 2..4))
}

/// Reports: figures among words.
fn reports(draw: &mut Draw) -> String {
    words(draw, |d| match d.random_range(0..6) {
        0 => figures(d),
        1 => format!("{} {}", figures(d), figures(d)),
        2 => call(d),
        3 => format!("{}.{}", d.random_range(1..60), d.random_range(0..10)),
        _ => {
            let words = [
                "WIND", "FROM", "THE", "WEST", "SERIAL", "AT", "UTC", "KHZ", "REPORT", "METRES",
            ];
            (*words.choose(d).expect("there are words")).into()
        }
    })
}

fn us_signs(draw: &mut Draw) -> String {
    words(draw, |d| {
        let words = [
            "DON'T", "IT'S", "\"FINE\"", "WAIT;", "$5", "#12", "THE", "OPERATOR", "SAID", "THAT",
            "PAPER", "(#\"7\")", "COSTS", "$12.50", "AND", "CAN'T", "GO",
        ];
        (*words.choose(d).expect("there are words")).into()
    })
}

fn ita2_signs(draw: &mut Draw) -> String {
    words(draw, |d| {
        let words = [
            "DON'T", "IT'S", "2+2", "=", "£5", "+", "THE", "OPERATOR", "SAID", "THAT", "PAPER",
            "A=4", "COSTS", "£12.50", "AND", "CAN'T", "GO",
        ];
        (*words.choose(d).expect("there are words")).into()
    })
}

fn sentences(draw: &mut Draw, all: &[&str]) -> String {
    let all: Vec<String> = all.iter().map(|s| s.to_string()).collect();
    sentences_of(draw, &all)
}

fn sentences_of(draw: &mut Draw, all: &[String]) -> String {
    let mut text = String::new();
    while text.len() < LENGTH {
        text += all.choose(draw).expect("there are sentences");
        text += ".\r\r\n";
    }
    text
}

const GERMAN: [&str; 10] = [
    "GUTEN ABEND AN ALLE STATIONEN IM NETZ",
    "DAS TREFFEN IN DER ALTEN SEILEREI BEGANN SPAETER WEIL DER SCHLUESSEL NICHT ZU FINDEN WAR",
    "ZWEI MASCHINEN LIEFEN UND EINE DRITTE WURDE NUR GEZEIGT",
    "DER FEHLER WAR EINE BUERSTE NICHT LAENGER ALS EIN FINGERNAGEL",
    "NACH SONNENUNTERGANG WIRD DAS BAND LANG UND DIE NAHEN STATIONEN VERSCHWINDEN GEMEINSAM",
    "BITTE LASST DEN EMPFAENGER WARM WERDEN UND DREHT SO WENIG WIE MOEGLICH",
    "DAS PAPIER REICHT FUER DEN WINTER ABER FARBBAENDER SIND KNAPP",
    "EIN BESUCHER FRAGTE WARUM DIE GLOCKE LAEUTET UND NIEMAND WUSSTE ES GENAU",
    "KURZ VOR MITTERNACHT LIESS DAS RAUSCHEN NACH UND SCHWACHE SIGNALE WAREN LESBAR",
    "BIS DAHIN HALTET EURE KONTAKTE SAUBER UND EURE LISTEN EHRLICH",
];
const SPANISH: [&str; 10] = [
    "BUENAS NOCHES A TODAS LAS ESTACIONES DE LA RED",
    "LA REUNION EN LA VIEJA CORDELERIA EMPEZO TARDE PORQUE NO SE ENCONTRABA LA LLAVE",
    "DOS MAQUINAS FUNCIONABAN Y UNA TERCERA SOLO SE MOSTRO",
    "EL FALLO ERA UNA ESCOBILLA NO MAS LARGA QUE UNA UNA",
    "DESPUES DE LA PUESTA DEL SOL LAS ESTACIONES CERCANAS SE DESVANECEN JUNTAS",
    "DEJEN CALENTAR EL RECEPTOR Y TOQUEN EL DIAL LO MENOS POSIBLE",
    "EL PAPEL ALCANZA PARA EL INVIERNO PERO FALTAN CINTAS",
    "UN VISITANTE PREGUNTO POR QUE SUENA LA CAMPANA Y NADIE LO SABIA",
    "POCO ANTES DE MEDIANOCHE BAJO EL RUIDO Y SE LEYERON SENALES MUY DEBILES",
    "HASTA ENTONCES MANTENGAN LIMPIOS LOS CONTACTOS Y HONESTOS LOS REGISTROS",
];
const POLISH: [&str; 10] = [
    "DOBRY WIECZOR WSZYSTKIM STACJOM W SIECI",
    "SPOTKANIE W STAREJ POWROZNI ZACZELO SIE POZNO BO NIE MOZNA BYLO ZNALEZC KLUCZA",
    "DWIE MASZYNY PRACOWALY A TRZECIA TYLKO POKAZANO",
    "PRZYCZYNA BYLA SZCZOTKA NIE DLUZSZA NIZ PAZNOKIEC",
    "PO ZACHODZIE SLONCA BLISKIE STACJE ZANIKAJA RAZEM",
    "PROSZE ROZGRZAC ODBIORNIK I JAK NAJMNIEJ RUSZAC STROJENIE",
    "PAPIERU WYSTARCZY NA ZIME ALE TASMY JEST MALO",
    "GOSC ZAPYTAL DLACZEGO DZWONI DZWONEK I NIKT NIE WIEDZIAL",
    "TUZ PRZED POLNOCA SZUM OPADL I MOZNA BYLO ODCZYTAC BARDZO SLABE SYGNALY",
    "DO TEGO CZASU UTRZYMUJCIE STYKI W CZYSTOSCI A ZAPISKI W PORZADKU",
];
