//! Counts which letters follow which in the languages that are written in Latin letters.
//!
//! The sources are relative frequencies of n-grams in eight languages (crates
//! `lingua-*-language-model` 1.3.0, Apache-2.0). Signs above and below letters are left out,
//! as they are on the air; the languages count alike. The result is 27 rows of 26 bytes: at
//! the begin of a word, after A, after B ..., the cost of each letter in eighths of a bit.

use std::collections::HashMap;

use fst::{Map, Streamer};

/// What is added to every pair of letters, as its share of all: one in 5000.
const UNSEEN: f64 = 2e-4;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let out = std::env::args().nth(1).ok_or("name the file to write")?;
    let models = [
        &lingua_dutch_language_model::DUTCH_MODELS_DIRECTORY,
        &lingua_french_language_model::FRENCH_MODELS_DIRECTORY,
        &lingua_german_language_model::GERMAN_MODELS_DIRECTORY,
        &lingua_italian_language_model::ITALIAN_MODELS_DIRECTORY,
        &lingua_polish_language_model::POLISH_MODELS_DIRECTORY,
        &lingua_portuguese_language_model::PORTUGUESE_MODELS_DIRECTORY,
        &lingua_spanish_language_model::SPANISH_MODELS_DIRECTORY,
        &lingua_swedish_language_model::SWEDISH_MODELS_DIRECTORY,
    ];
    let mut single = [0.0; 26];
    let mut pairs = [[0.0; 26]; 26];
    for model in models {
        let file = model.get_file("ngrams.fst").ok_or("the model has another layout")?;
        count(file.contents(), &mut single, &mut pairs)?;
    }
    std::fs::write(out, costs(&single, &pairs))?;
    Ok(())
}

/// Adds the shares of one language's letters and pairs of letters.
fn count(
    bytes: &[u8],
    single: &mut [f64; 26],
    pairs: &mut [[f64; 26]; 26],
) -> Result<(), fst::Error> {
    let map = Map::new(bytes)?;
    let mut listed = HashMap::new();
    let mut stream = map.stream();
    while let Some((key, value)) = stream.next() {
        let gram: Vec<char> = String::from_utf8_lossy(key).chars().collect();
        if gram.len() <= 2 {
            // Logarithm of the probability of the last letter after the others.
            listed.insert(gram, f64::from_bits(value));
        }
    }
    let (mut ones, mut twos) = ([0.0; 26], [[0.0; 26]; 26]);
    for (gram, value) in &listed {
        let letters: Option<Vec<usize>> = gram.iter().map(|c| letter(*c)).collect();
        match letters.as_deref() {
            Some([a]) => ones[*a] += value.exp(),
            Some([a, b]) => {
                let before = listed.get(&gram[..1]).map_or(0.0, |v| v.exp());
                twos[*a][*b] += before * value.exp();
            }
            _ => {}
        }
    }
    let total: f64 = ones.iter().sum();
    ones.iter().zip(single).for_each(|(one, sum)| *sum += one / total);
    let total: f64 = twos.iter().flatten().sum();
    let twos = twos.iter().flatten();
    twos.zip(pairs.iter_mut().flatten()).for_each(|(two, sum)| *sum += two / total);
    Ok(())
}

/// The place in the alphabet of a letter without what stands above or below it.
fn letter(c: char) -> Option<usize> {
    let plain = match c {
        'a'..='z' => c,
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'ą' | 'æ' => 'a',
        'ç' | 'ć' => 'c',
        'è' | 'é' | 'ê' | 'ë' | 'ę' => 'e',
        'ì' | 'í' | 'î' | 'ï' => 'i',
        'ł' => 'l',
        'ñ' | 'ń' => 'n',
        'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' | 'œ' => 'o',
        'ś' | 'ß' => 's',
        'ù' | 'ú' | 'û' | 'ü' => 'u',
        'ý' | 'ÿ' => 'y',
        'ź' | 'ż' => 'z',
        _ => return None,
    };
    Some(plain as usize - 'a' as usize)
}

fn costs(single: &[f64; 26], pairs: &[[f64; 26]; 26]) -> Vec<u8> {
    let languages: f64 = single.iter().sum();
    let cost = |p: f64| (-8.0 * p.log2()).round().clamp(0.0, 255.0) as u8;
    let begin = single.iter().map(|p| cost(p / languages));
    let after = pairs.iter().flat_map(|row| {
        let total = row.iter().sum::<f64>() / languages + UNSEEN;
        let alone = row.iter().zip(single);
        alone.map(move |(pair, one)| cost((pair + UNSEEN * one) / languages / total))
    });
    begin.chain(after).collect()
}
