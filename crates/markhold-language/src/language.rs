//! Language: what is generally written, and what one archive holds.

use std::sync::{Arc, OnceLock};

use crate::learned::Learned;
use crate::tokens::{Context, TOKENS, Token};
use crate::trie::Trie;

/// The model counted by `cargo run --release -p markhold-language --bin train`; its sources
/// and licences: `docs/language.md`.
static ENGLISH: &[u8] = include_bytes!("../model/english.mkl");

/// A language: cheap to clone, the same for every signal.
#[derive(Clone, Debug)]
pub struct Language {
    general: Arc<Trie>,
    learned: Option<Arc<Learned>>,
}

impl Language {
    /// A language of a general model and, maybe, of what an archive taught.
    pub fn new(general: Arc<Trie>, learned: Option<Arc<Learned>>) -> Self {
        Self { general, learned }
    }

    /// English, as it comes with the program. Unpacked when first asked for.
    pub fn english() -> Self {
        static UNPACKED: OnceLock<Arc<Trie>> = OnceLock::new();
        let trie = UNPACKED.get_or_init(|| {
            let trie =
                Trie::from_bytes(ENGLISH).expect("the model in the binary is whole: tests read it");
            Arc::new(trie)
        });
        Self::new(trie.clone(), None)
    }

    /// The same with what an archive taught.
    pub fn with(self, learned: Arc<Learned>) -> Self {
        Self {
            learned: Some(learned),
            ..self
        }
    }

    /// The part of a context that matters for what follows.
    pub fn known(&self, context: Context) -> Context {
        let general = self.general.known(context);
        match &self.learned {
            Some(learned) => {
                let own = learned.known(context);
                if own.len() > general.len() {
                    own
                } else {
                    general
                }
            }
            None => general,
        }
    }

    /// Probability of each token after a context; adds up to 1.
    pub fn row(&self, context: Context) -> [f32; TOKENS] {
        let mut row = self.general.row(context);
        if let Some(learned) = &self.learned {
            learned.refine(context, &mut row);
        }
        row
    }

    /// Mean cost of the tokens of a text, each after all before it, bits.
    pub fn bits(&self, tokens: &[Token]) -> f64 {
        let mut context = Context::EMPTY;
        let cost = |&token: &Token| {
            let p = self.row(context)[usize::from(token)];
            context = self.known(context.then(token));
            -f64::from(p).log2()
        };
        tokens.iter().map(cost).sum::<f64>() / tokens.len().max(1) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tokens::tokens;

    /// Sentences of the invented scenario, which no source of the model holds.
    const PROSE: &str = "THE SPRING MEETING WAS HELD IN THE OLD MILL AT LOW FERRY AND THE ROOM \
        WAS FULL TO THE DOOR. THREE MEMBERS BROUGHT PAGE PRINTERS AND ONE BROUGHT A TAPE READER \
        THAT HAD NOT TURNED FOR FORTY YEARS.";
    const GROUPS: &str = "XQJVZ KWPFY QZXJW VKQPB ZZQWX JVFKQ BXQZP WQKJV";

    /// Simulation reached 2.09 to 2.3 bits a character on other prose with orders 5 to 7;
    /// groups of random letters cost 4.75 bits and a break now and then.
    #[test]
    fn prose_costs_half_of_what_groups_cost() {
        let english = Language::english();
        let (prose, groups) = (english.bits(&tokens(PROSE)), english.bits(&tokens(GROUPS)));
        assert!((1.5..2.5).contains(&prose), "{prose}");
        assert!(groups > 5.0, "{groups}");
    }

    #[test]
    fn an_archive_teaches_its_names() {
        let mut learned = Learned::default();
        learned.learn("KESTREL STAITHE IS ON THE AIR. KESTREL STAITHE SENDS THE BULLETIN.");
        let text = tokens("THE NET AT KESTREL STAITHE");
        let general = Language::english();
        let own = general.clone().with(Arc::new(learned));
        let (before, after) = (general.bits(&text), own.bits(&text));
        assert!(after < 0.75 * before, "{after} {before}");
        let prose = tokens(PROSE);
        assert!(own.bits(&prose) < 1.05 * general.bits(&prose));
        for context in ["", "T", "KESTREL ST", "QUITE OTHER"] {
            let context = Context::of(&tokens(context));
            let row = own.row(context);
            assert!((row.iter().sum::<f32>() - 1.0).abs() < 1e-4);
            assert_eq!(row, own.row(own.known(context)), "{context:?}");
        }
    }
}
