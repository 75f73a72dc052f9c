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
    pub fn with(self, learned: Learned) -> Self {
        Self {
            learned: Some(Arc::new(learned)),
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
