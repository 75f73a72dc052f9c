//! The report as one JSON object.

use super::{About, verdict};
use markhold_bench::limits::judge;
use markhold_bench::measure::{Degree, Estimate, Measurement};
use markhold_event::VERSION;
use serde_json::{Value, json};

/// The whole report on one line. Percentages are of an element, or of the rate for the
/// speed error.
pub fn json(about: &About, measured: &Measurement) -> anyhow::Result<String> {
    let m = measured;
    let tones = about.pair.map(|pair| match about.mark_is_lower {
        true => json!({"mark_hz": pair.low_hz, "space_hz": pair.high_hz}),
        false => json!({"mark_hz": pair.high_hz, "space_hz": pair.low_hz}),
    });
    let object = json!({
        "type": "measurement",
        "version": VERSION,
        "file": about.name,
        "source": about.source,
        "tones": tones,
        "nominal_baud": m.nominal_known.then_some(m.nominal_baud),
        "rate_baud": {"value": m.rate_baud.value, "within": m.rate_baud.within},
        "speed_error_percent": percent(&m.speed_error),
        "bias_percent": percent(&m.bias),
        "end_percent": m.end.as_ref().map(percent),
        "fortuitous_rms_percent": 100.0 * m.fortuitous_rms,
        "error_rms_percent": 100.0 * m.error_rms,
        "gross_percent": degree(&m.gross),
        "synchronous_percent": degree(&m.synchronous),
        "isochronous_percent": degree(&m.isochronous),
        "stop_units": m.stops.map(|s| json!({
            "count": s.count, "pauses": s.pauses,
            "shortest": s.shortest, "median": s.median, "longest": s.longest,
        })),
        "characters": m.characters.len(),
        "codes": m.characters.iter().map(|c| c.code.value()).collect::<Vec<_>>(),
        "explained_percent": 100.0 * m.explained,
        "individual_percent": m.individual.iter().map(|d| json!({
            "character": d.character, "units": d.units, "to_mark": d.to_mark,
            "gross": 100.0 * d.gross, "synchronous": 100.0 * d.synchronous,
        })).collect::<Vec<_>>(),
        "refusal": m.refusal().map(|r| r.to_string()),
        "limits": limits(m),
    });
    Ok(serde_json::to_string(&object)?)
}

fn percent(estimate: &Estimate) -> Value {
    json!({"value": 100.0 * estimate.value, "within": 100.0 * estimate.within})
}

fn degree(degree: &Degree) -> Value {
    json!({"seen": 100.0 * degree.seen, "least": 100.0 * degree.least, "most": 100.0 * degree.most})
}

/// Nothing where a verdict is refused.
fn limits(measured: &Measurement) -> Option<Vec<Value>> {
    if measured.refusal().is_some() {
        return None;
    }
    let one = |f: markhold_bench::limits::Finding| {
        json!({
            "quantity": format!("{:?}", f.limit.quantity).to_lowercase(),
            "found": f.found, "limit": f.limit.value, "verdict": verdict(f.verdict),
            "source": f.limit.source, "status": f.limit.status.words(),
        })
    };
    Some(judge(measured).into_iter().map(one).collect())
}
