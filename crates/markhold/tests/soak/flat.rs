//! Whether a program's size stays what it is.

/// How large the program was, now and then.
#[derive(Default)]
pub struct Sizes(Vec<Size>);

struct Size {
    life: usize,
    /// Sound since that start, hours.
    at_h: f64,
    kilobytes: f64,
    descriptors: f64,
}

/// A straight line through what was found.
#[derive(Clone, Copy, Debug)]
pub struct Slope {
    /// A hour of sound.
    pub per_h: f64,
    pub least: f64,
    pub most: f64,
    pub count: usize,
}

impl Sizes {
    pub fn add(&mut self, life: usize, heard_s: f64, (kilobytes, descriptors): (f64, f64)) {
        self.0.push(Size {
            life,
            at_h: heard_s / 3600.0,
            kilobytes,
            descriptors,
        });
    }

    /// Memory, MB, and descriptors, of what was found later than that after a start. Lives
    /// that begin at different sizes share one slope.
    pub fn slopes(&self, from_h: f64) -> (Slope, Slope) {
        let late: Vec<&Size> = self.0.iter().filter(|size| size.at_h >= from_h).collect();
        (
            slope(&late, |size| size.kilobytes / 1024.0),
            slope(&late, |size| size.descriptors),
        )
    }

    /// The most memory of any life, MB.
    pub fn most_mb(&self) -> f64 {
        let all = self.0.iter().map(|size| size.kilobytes / 1024.0);
        all.fold(0.0, f64::max)
    }

    /// The longest time after a start, h.
    pub fn longest_h(&self) -> f64 {
        self.0.iter().map(|size| size.at_h).fold(0.0, f64::max)
    }

    /// Mean memory, MB, in each so many hours of the longest life.
    pub fn course(&self, parts: usize) -> Vec<(f64, f64)> {
        let longest = self.0.iter().max_by(|a, b| a.at_h.total_cmp(&b.at_h));
        let Some(last) = longest else {
            return Vec::new();
        };
        let part = |k: usize| {
            let (from, until) = (k as f64, (k + 1) as f64);
            let share = last.at_h / parts as f64;
            let within =
                |s: &&Size| s.life == last.life && (from * share..=until * share).contains(&s.at_h);
            let all: Vec<f64> = self.0.iter().filter(within).map(|s| s.kilobytes).collect();
            let mean = all.iter().sum::<f64>() / all.len().max(1) as f64;
            (until * share, mean / 1024.0)
        };
        (0..parts).map(part).collect()
    }
}

/// Least squares, each life about its own mean.
fn slope(sizes: &[&Size], of: impl Fn(&Size) -> f64) -> Slope {
    let (mut up, mut down) = (0.0, 0.0);
    let lives = sizes.iter().map(|size| size.life).max().unwrap_or(0);
    for life in 0..=lives {
        let own: Vec<&&Size> = sizes.iter().filter(|size| size.life == life).collect();
        let count = own.len().max(1) as f64;
        let mean_h = own.iter().map(|size| size.at_h).sum::<f64>() / count;
        let mean = own.iter().map(|size| of(size)).sum::<f64>() / count;
        for size in own {
            up += (size.at_h - mean_h) * (of(size) - mean);
            down += (size.at_h - mean_h).powi(2);
        }
    }
    let values = || sizes.iter().map(|size| of(size));
    Slope {
        per_h: if down > 0.0 { up / down } else { 0.0 },
        least: values().fold(f64::INFINITY, f64::min),
        most: values().fold(0.0, f64::max),
        count: sizes.len(),
    }
}
