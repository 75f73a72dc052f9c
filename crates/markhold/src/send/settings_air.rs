//! The transmitter of the settings file, for the station.

use crate::machine::Outfit;
use crate::outcome::in_words;
use markhold_station::answering::Air;
use markhold_wire::transmit::TransmitterPlan;
use toml::Table;

/// Reads the settings file anew each time: who corrects it need not start again.
pub struct SettingsAir(pub Outfit);

impl Air for SettingsAir {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        let settings = self.0.read_settings().map_err(|error| in_words(&error))?;
        TransmitterPlan::of_settings(&settings, Table::new()).map_err(|error| error.to_string())
    }
}
