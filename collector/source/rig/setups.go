package rig

import "soakline/collector/telemetry"

// Setup is one way in which the machine is put together.
type Setup struct {
	Name       string // what Select takes
	Title      string // for people
	About      string // one sentence
	Conditions []telemetry.Setting
	Cooling    Cooling
}

// defaultSetups are the three of the demonstration. The capacities follow from plain
// parts (heat capacity of silicon 1.66, copper 3.45, aluminium 2.44 J/(K cm3)): a die of
// 0.15 cm3 with its package, a copper slug of 1.7 cm3, a copper block of 12 cm3, fins of
// 33 cm3, a plate of 82 cm3. A plate of 1.5 mm then has 0.055 m2 a side; free convection
// from both sides, 0.2 m high, gives 0.50 W/K at a rise of 25 K and radiation from a dark
// surface 0.65 W/K (TestPlateConductance works both out from published formulas).
func defaultSetups() []Setup {
	fanCooler := Cooling{
		ContactR: 0.25, SpreadR: 0.12, BlockR: 0.18,
		DieC: 0.3, SpreaderC: 6, BlockC: 40, FarC: 80,
		Far:        FarSide{Steady: 0.1, Blown: 1.85, FanRPM: 3000},
		CoreSpread: [Cores]float64{0, 0.045, 0.09, 0.03},
	}
	plate := Cooling{
		ContactR: 0.22, SpreadR: 0.12, BlockR: 0.16,
		DieC: 0.3, SpreaderC: 6, BlockC: 40, FarC: 200,
		Far:        FarSide{Steady: 0.65, Free: 0.50},
		CoreSpread: [Cores]float64{0, 0.04, 0.08, 0.03},
	}
	badPlate := plate
	badPlate.ContactR = 1.2
	badPlate.CoreSpread = [Cores]float64{0, 0.16, 0.34, 0.09}
	return []Setup{
		{"fan-cooler", "Fan cooler, as delivered", "The machine as it came: finned cooler with a fan, paste from the factory.",
			conditions("fan cooler, as delivered", "factory", "as delivered"), fanCooler},
		{"plate-first", "Conduction plate, first mount", "Sealed plate without a fan; the contact to the chip is bad.",
			conditions("sealed conduction plate", "re-applied", "plate, first mount"), badPlate},
		{"plate-again", "Conduction plate, mounted again", "The same plate after cleaning, fresh paste and even pressure.",
			conditions("sealed conduction plate", "re-applied, second time", "plate, mounted again"), plate},
	}
}

func conditions(cooler, paste, mount string) []telemetry.Setting {
	return []telemetry.Setting{{Key: "cooler", Value: cooler}, {Key: "paste", Value: paste}, {Key: "mount", Value: mount}}
}
