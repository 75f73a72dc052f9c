//! The account of a soak: what was made and found, and all of it in words.

use super::evening::RATE;
use super::fault::Fault;
use super::flat::Sizes;
use super::judge::Verdict;
use super::run::Plan;
use std::collections::BTreeMap;
use std::time::Duration;

/// What was found while it ran.
#[derive(Default)]
pub struct Account {
    pub made: BTreeMap<Fault, usize>,
    pub sizes: Sizes,
    pub wrong: Vec<String>,
    /// Longest waits for the page, quiet and in a flood, and how often it did not come.
    page: (Duration, Duration, usize),
    ends: Vec<Duration>,
}

/// How it went, and what was judged at its end.
pub struct Course {
    pub plan: Plan,
    pub wall: Duration,
    pub sound_s: f64,
    /// Until what the kills cost was copied again.
    pub mended: Duration,
    /// Codes that came to the machine.
    pub codes: u64,
    pub starts: usize,
    /// Whether there was a disk that could be filled.
    pub disk: bool,
    /// How soon faults were told.
    pub states: Vec<String>,
    pub verdict: Verdict,
}

impl Account {
    /// The owner asked for the page at an instant, and waited so long.
    pub fn page(&mut self, waited: Option<Duration>, flooded: bool, at_s: f64) {
        match waited {
            Some(waited) if flooded => self.page.1 = self.page.1.max(waited),
            Some(waited) => self.page.0 = self.page.0.max(waited),
            None if flooded => self.page.2 += 1,
            None => {
                let wrong = format!("no page without a flood at {at_s:.0} s");
                self.wrong.push(wrong);
            }
        }
    }

    /// It was told to end, and did within so long.
    pub fn ended(&mut self, took: Option<Duration>) {
        match took {
            Some(took) => self.ends.push(took),
            None => self.wrong.push("told to end, it did not".into()),
        }
    }

    fn longest_end(&self) -> Duration {
        self.ends.iter().copied().max().unwrap_or_default()
    }

    pub fn print(&self, course: &Course) {
        let (plan, v) = (&course.plan, &course.verdict);
        let s = |samples: u64| samples as f64 / f64::from(RATE);
        println!(
            "{:.1} h of sound in {:.1} min at {} times real time (seed {}), {} starts",
            course.sound_s / 3600.0,
            course.wall.as_secs_f64() / 60.0,
            plan.speed,
            plan.seed,
            course.starts
        );
        for (fault, count) in &self.made {
            println!("  {:<30} {count:>5}", fault.name());
        }
        if !course.disk {
            println!("  no disk could be mounted here: a full one was not tried");
        }
        println!(
            "sound: {:.1} s sent, {:.1} s lost before the program, {:.1} s kept; {:.1} s missing \
             and told, {:.3} s missing and not told, {:.3} s told though kept; {} samples unlike \
             what was sent; a kill cost {:.3} s at most; {} gaps",
            s(v.sent),
            s(v.lost_before),
            s(v.kept),
            s(v.told),
            s(v.untold),
            s(v.told_though_kept),
            v.unlike,
            s(v.most_killed),
            v.gaps
        );
        println!(
            "copy: {} characters sent and heard; not copied {}, and {} within some seconds of \
             missing sound, and {} left to the next start; copied and not sent {}, and {} within \
             some seconds of missing sound; {} of {} evenings joined",
            v.characters,
            v.not_copied,
            v.not_copied_near,
            v.left,
            v.not_sent,
            v.not_sent_near,
            v.joined,
            v.evenings
        );
        println!(
            "clock: {} steps, {} evenings with a wrong sum",
            v.steps, v.steps_wrong
        );
        course.states.iter().for_each(|words| println!("{words}"));
        println!(
            "desk: the page came within {:.0?}, in a flood {:.0?}, {} times not; machine: {} codes; \
             mended {:.0?} after the last fault; ends took {:.1?} at most",
            self.page.0,
            self.page.1,
            self.page.2,
            course.codes,
            course.mended,
            self.longest_end()
        );
        let (memory, open) = self.sizes.slopes(plan.settled_h);
        println!(
            "size later than {} h after a start ({} looks, longest life {:.1} h): memory {:.1} to \
             {:.1} MB, slope {:+.3} MB an hour of sound; descriptors {:.0} to {:.0}, slope {:+.3} \
             an hour",
            plan.settled_h,
            memory.count,
            self.sizes.longest_h(),
            memory.least,
            memory.most,
            memory.per_h,
            open.least,
            open.most,
            open.per_h
        );
        let hours = self.sizes.course(12);
        let hours = hours.iter().map(|(h, mb)| format!("{h:.1} h {mb:.1}"));
        println!(
            "memory of the longest life, MB: {}",
            hours.collect::<Vec<_>>().join(", ")
        );
        self.wrong
            .iter()
            .for_each(|wrong| println!("WRONG: {wrong}"));
        println!("{} wrong", self.wrong.len());
        println!(
            "figures soak tries={} failures={} starts={} sent_s={:.0} kept_s={:.0} told_s={:.0} \
             untold_s={:.3} unlike={} characters={} not_copied={} not_sent={} near={} most_killed_s={:.3} \
             most_end_s={:.1} most_life_h={:.1} most_memory_mb={:.0} most_slope_mb_h={:.2}",
            self.made.values().sum::<usize>(),
            self.wrong.len(),
            course.starts,
            s(v.sent),
            s(v.kept),
            s(v.told),
            s(v.untold),
            v.unlike,
            v.characters,
            v.not_copied,
            v.not_sent,
            v.not_copied_near + v.not_sent_near,
            s(v.most_killed),
            self.longest_end().as_secs_f64(),
            self.sizes.longest_h(),
            self.sizes.most_mb(),
            memory.per_h,
        );
    }
}
