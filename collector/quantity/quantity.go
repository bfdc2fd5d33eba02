// Package quantity owns the physical quantities that soakline measures: one named
// type each, so that a temperature, a temperature difference, a thermal resistance and
// a power cannot be mixed up, and the units in which people and files write them.
//
// It imports nothing but the standard library and knows nothing of channels, files or
// screens. Columns of numbers elsewhere are plain float64 in the canonical unit of their
// Kind; these types guard the places where quantities meet.
package quantity

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin is a temperature difference in kelvin, never an absolute temperature.
type Kelvin float64

// Watt is a power in watts.
type Watt float64

// Joule is an energy in joules.
type Joule float64

// KelvinPerWatt is a thermal resistance in kelvin per watt.
type KelvinPerWatt float64

// JoulePerKelvin is a heat capacity in joules per kelvin.
type JoulePerKelvin float64

// Megahertz is a clock frequency in megahertz.
type Megahertz float64

// Volt is an electric potential in volts.
type Volt float64

// RPM is a rotational speed in revolutions per minute.
type RPM float64

// Percent is a share in per cent.
type Percent float64

// Second is a time span in seconds.
type Second float64

// Minus gives the difference t - u.
func (t Celsius) Minus(u Celsius) Kelvin { return Kelvin(t - u) }

// Plus gives the temperature d above t.
func (t Celsius) Plus(d Kelvin) Celsius { return t + Celsius(d) }

// Per gives the thermal resistance across which p makes the difference d.
// It is infinite or NaN where p is 0.
func (d Kelvin) Per(p Watt) KelvinPerWatt { return KelvinPerWatt(float64(d) / float64(p)) }

// Over gives the power that makes the difference d across r.
func (d Kelvin) Over(r KelvinPerWatt) Watt { return Watt(float64(d) / float64(r)) }

// Times gives the temperature difference that p makes across r.
func (r KelvinPerWatt) Times(p Watt) Kelvin { return Kelvin(float64(r) * float64(p)) }

// Times gives the energy of p held for s.
func (p Watt) Times(s Second) Joule { return Joule(float64(p) * float64(s)) }

// Per gives the mean power of e over s.
func (e Joule) Per(s Second) Watt { return Watt(float64(e) / float64(s)) }
