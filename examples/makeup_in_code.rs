//! A site built in code, without a file: prints its makeup for a few cycles of concentration.
//! The tower is invented.

use coldbasin::model::{Model, Workspace};
use coldbasin::quantity::{Ratio, Temperature, VolumeFlow};
use coldbasin::site::description::{Air, Blowdown, Circuit};
use coldbasin::site::{Description, validate};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let description = Description {
        air: Some(Air {
            dry_bulb: Some(Temperature::celsius(32.0).into()),
            wet_bulb: Some(Temperature::celsius(24.0).into()),
            ..Air::default()
        }),
        circuit: Some(Circuit {
            circulation: Some(VolumeFlow::cubic_metre_per_hour(900.0).into()),
            hot_water: Some(Temperature::celsius(37.0).into()),
            cold_water: Some(Temperature::celsius(29.0).into()),
            ..Circuit::default()
        }),
        blowdown: Some(Blowdown { cycles: Some(Ratio::number(5.0).into()), ..Blowdown::default() }),
        ..Description::default()
    };
    let site = validate(&description).map_err(|problems| problems[0].message.clone())?;
    let model = Model::compile(&site);
    let cycles = model.slot("blowdown.cycles")?;
    let mut work = Workspace::new(&model);
    let mut inputs = model.base().clone();
    for value in [2.0, 3.0, 4.0, 5.0, 6.0] {
        inputs.set(cycles, value);
        let balance = model.evaluate(&inputs, &mut work)?;
        println!("{value} cycles: makeup {:.2} m3/h", balance.makeup_m3_per_h());
    }
    Ok(())
}
