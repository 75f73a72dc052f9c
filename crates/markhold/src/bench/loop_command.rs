//! `markhold bench loop`: arithmetic of a local loop.

use super::values;
use crate::outcome::Outcome;
use clap::Args;
use markhold_bench::caution;
use markhold_bench::circuit::{Loop, LoopFigures};
use markhold_event::VERSION;
use serde::Serialize;
use std::io::Write;

/// Work out a local loop: series resistor, its rating, how fast the magnet pulls.
#[derive(Args, Debug)]
#[command(after_help = format!("\
Examples:
  markhold bench loop --supply 120 --current 60mA
  markhold bench loop --supply 130 --current 60mA --coil-ohm 200 --inductance 4 --rate 50

Caution. {}

{}", caution::LOOP, caution::MAINS))]
pub struct Options {
    /// Supply, direct voltage
    #[arg(long, value_name = "VOLT", value_parser = values::above_zero)]
    supply: f64,

    /// Current of the closed loop, such as 60mA or 20mA
    #[arg(long, value_name = "CURRENT", value_parser = values::current)]
    current: f64,

    /// Resistance of all magnets in the loop together
    #[arg(long, value_name = "OHM", default_value = "0")]
    coil_ohm: f64,

    /// Resistance of the line
    #[arg(long, value_name = "OHM", default_value = "0")]
    line_ohm: f64,

    /// Inductance of all magnets together; 4 H is assumed where nothing is known
    #[arg(long, value_name = "HENRY", default_value = "4")]
    inductance: f64,

    /// Modulation rate, to compare times with an element
    #[arg(long, value_name = "BAUD", default_value = "45.45", value_parser = values::rate)]
    rate: f64,

    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
#[serde(tag = "type", rename = "loop")]
struct Json {
    version: u32,
    total_ohm: f64,
    total_w: f64,
    series_ohm: f64,
    series_w: f64,
    rating_w: Option<f64>,
    preferred_ohm: Option<f64>,
    preferred_ma: f64,
    rise_ms: f64,
    rise_percent_of_element: f64,
    rise_90_ms: f64,
    stored_mj: f64,
    diode_fall_ms: Option<f64>,
    cautions: [&'static str; 2],
}

/// Says what follows.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let figures = Loop {
        supply_v: options.supply,
        current_a: options.current,
        coil_ohm: options.coil_ohm,
        line_ohm: options.line_ohm,
        coil_h: options.inductance,
    }
    .figures()?;
    let element_s = 1.0 / values::exact_rate(options.rate);
    let words = match options.json {
        true => serde_json::to_string(&json(&figures, element_s))? + "\n",
        false => text(options, &figures, element_s),
    };
    std::io::stdout().write_all(words.as_bytes())?;
    Ok(Outcome::Done)
}

fn json(figures: &LoopFigures, element_s: f64) -> Json {
    Json {
        version: VERSION,
        total_ohm: figures.total_ohm,
        total_w: figures.total_w,
        series_ohm: figures.series_ohm,
        series_w: figures.series_w,
        rating_w: figures.rating_w,
        preferred_ohm: figures.preferred_ohm,
        preferred_ma: 1e3 * figures.preferred_a,
        rise_ms: 1e3 * figures.rise_s,
        rise_percent_of_element: 100.0 * figures.rise_s / element_s,
        rise_90_ms: 1e3 * figures.rise_90_s,
        stored_mj: 1e3 * figures.stored_j,
        diode_fall_ms: figures
            .diode_fall_s
            .is_finite()
            .then_some(1e3 * figures.diode_fall_s),
        cautions: [caution::LOOP, caution::MAINS],
    }
}

fn text(options: &Options, figures: &LoopFigures, element_s: f64) -> String {
    let percent = |s: f64| {
        format!(
            "{:.1} ms, {:.0} % of an element",
            1e3 * s,
            100.0 * s / element_s
        )
    };
    let rating = figures.rating_w.map_or_else(
        || "share it among several resistors".to_string(),
        |watt| format!("take one rated {watt:.0} W or more"),
    );
    let preferred = figures.preferred_ohm.map_or_else(
        || "none needed".to_string(),
        |ohm| format!("{ohm:.0} ohm makes {:.1} mA", 1e3 * figures.preferred_a),
    );
    let fall = match figures.diode_fall_s {
        s if s.is_finite() => format!("{} (bias: the magnet lets go late)", percent(s)),
        _ => "give --coil-ohm to know".to_string(),
    };
    format!(
        "\
whole loop       {:.0} ohm, {:.1} W from the supply ({:.0} V, {:.0} mA)
series resistor  {:.0} ohm, {:.1} W of heat: {rating}
nearest value    {preferred}
magnet pulls     time constant {} (L/R with {} H); 90 % of the current after {:.1} ms
contact opens    {:.1} mJ in the coil must go somewhere: the voltage rises until something conducts
bare diode       falls with {fall}; a snubber or a zener diode is quicker

Caution. {}
{}
",
        figures.total_ohm,
        figures.total_w,
        options.supply,
        1e3 * options.current,
        figures.series_ohm,
        figures.series_w,
        percent(figures.rise_s),
        options.inductance,
        1e3 * figures.rise_90_s,
        1e3 * figures.stored_j,
        caution::LOOP,
        caution::MAINS
    )
}
