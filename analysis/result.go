package analysis

import (
	"encoding/json"
	"math"
	"strconv"

	"soakline/analysis/path"
)

// Number is a float64 that is null in JSON where it is not known (NaN or infinite).
type Number float64

// Unknown is the Number that stands for "not known".
func Unknown() Number { return Number(math.NaN()) }

// Known is true where the number is finite.
func (n Number) Known() bool { return !math.IsNaN(float64(n)) && !math.IsInf(float64(n), 0) }

// MarshalJSON writes null for what is not known.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Known() {
		return []byte("null"), nil
	}
	// Eight digits: a second of a day to the millisecond, and no rounding noise.
	v, err := strconv.ParseFloat(strconv.FormatFloat(float64(n), 'g', 8, 64), 64)
	if err != nil {
		return nil, err
	}
	return json.Marshal(v)
}

// UnmarshalJSON reads null as not known.
func (n *Number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = Unknown()
		return nil
	}
	return json.Unmarshal(b, (*float64)(n))
}

// Schema names the form of Result; fields are added, never renamed or removed.
const Schema = "soakline.analysis/1"

// Result is everything that the analysis says of one trace. Its JSON form is fixed by
// contract: every number ends in its unit, null is "not known", intervals are 90 %.
type Result struct {
	Schema      string        `json:"schema"`
	Channels    []ChannelInfo `json:"channels"`
	UntilS      Number        `json:"until_s"` // how far the trace was known
	Simulated   bool          `json:"simulated"`
	Load        []Span        `json:"load"`
	Limiter     []LimiterSpan `json:"limiter"`
	PowerStep   PowerStep     `json:"power_step"`
	PowerLimit  PowerLimit    `json:"power_limit"`
	ThermalHits []ThermalHit  `json:"thermal_hits"`
	Steady      Steady        `json:"steady"`
	ThermalPath ThermalPath   `json:"thermal_path"`
	Headroom    Headroom      `json:"headroom"`
	Averages    Averages      `json:"averages"`
	Now         Now           `json:"now"`
	HotSpot     HotSpot       `json:"hot_spot"`
	Coolant     Coolant       `json:"coolant"`
	SecondHeat  SecondHeat    `json:"second_source"`
	BurstWindow *BurstWindow  `json:"burst_window"` // null where no job was asked for
	Detail      *Detail       `json:"detail"`       // null where no detail was asked for
	Warnings    []string      `json:"warnings"`
}

// Now is the end of the trace: means over its last two seconds.
type Now struct {
	PowerW   Number `json:"power_w"`
	DieC     Number `json:"die_c"`
	ClockMHz Number `json:"clock_mhz"`
	// BurstLeftS is how long the running-average budget lasts at the present power, where
	// a burst runs and the limit and its time constant are known.
	BurstLeftS Number `json:"burst_left_s"`
	// DieTrendK is by how much the die has warmed over the last ten seconds.
	DieTrendK Number `json:"die_trend_k"`
	// FanStoppedS is since when the fan stands still under load; null where it turns.
	FanStoppedS Number `json:"fan_stopped_s"`
	// RestW is the power of rest as the trace shows it so far.
	RestW Number `json:"rest_w"`
}

// ChannelInfo names a channel and the role that it was given.
type ChannelInfo struct {
	Name string  `json:"name"`
	Unit string  `json:"unit"`
	Role *string `json:"role"`
}

// Span is a span of time.
type Span struct {
	StartS Number `json:"start_s"`
	EndS   Number `json:"end_s"`
}

// Kind is a limiter kind.
type Kind string

// The limiter kinds of the contract.
const (
	Idle       Kind = "idle"
	Clock      Kind = "clock"
	PowerShort Kind = "power-short"
	PowerLong  Kind = "power-long"
	Thermal    Kind = "thermal"
	Current    Kind = "current"
	Other      Kind = "other"
)

// LimiterSpan says what held the chip back over a span. Spans cover the trace without gaps.
type LimiterSpan struct {
	StartS     Number `json:"start_s"`
	EndS       Number `json:"end_s"`
	Kind       Kind   `json:"kind"`
	Source     string `json:"source"` // "reported" or "inferred"
	Confidence Number `json:"confidence"`
	Second     *Kind  `json:"second"` // the next candidate where confidence is below 0.7
}

// PowerStep is the end of the burst: the fall from the short- to the long-term power.
type PowerStep struct {
	Found             bool    `json:"found"`
	TimeS             Number  `json:"time_s"`
	ShortW            Number  `json:"short_w"`
	ShortLowW         Number  `json:"short_low_w"`
	ShortHighW        Number  `json:"short_high_w"`
	LongW             Number  `json:"long_w"`
	LongLowW          Number  `json:"long_low_w"`
	LongHighW         Number  `json:"long_high_w"`
	TimeConstantS     Number  `json:"time_constant_s"`
	TimeConstantLowS  Number  `json:"time_constant_low_s"`
	TimeConstantHighS Number  `json:"time_constant_high_s"`
	ShortIsALimit     *bool   `json:"short_is_a_limit"`
	Cause             *string `json:"cause"` // "power budget" or "thermal"
	// What the hardware itself states, where it does.
	StatedLongW         Number `json:"stated_long_w"`
	StatedShortW        Number `json:"stated_short_w"`
	StatedTimeConstantS Number `json:"stated_time_constant_s"`
	// Further steps of the same trace, by time.
	TimesS []Number `json:"times_s"`
	Why    string   `json:"why"` // why none was found or a number is missing; "" otherwise
}

// PowerLimit is the long-term power limit as the trace shows it, with or without a burst
// before it.
type PowerLimit struct {
	LongW       Number `json:"long_w"`
	LongLowW    Number `json:"long_low_w"`
	LongHighW   Number `json:"long_high_w"`
	StatedLongW Number `json:"stated_long_w"`
	Basis       string `json:"basis"` // how it was recognised
	Why         string `json:"why"`   // why it is not known; "" otherwise
}

// ThermalHit is one stay at the thermal limit.
type ThermalHit struct {
	StartS Number `json:"start_s"`
	EndS   Number `json:"end_s"`
	LimitC Number `json:"limit_c"`
}

// Steady says whether the temperature has settled under the last load, and if not,
// where it is heading.
type Steady struct {
	Reached       bool   `json:"reached"`
	SinceS        Number `json:"since_s"`
	TemperatureC  Number `json:"temperature_c"`
	PowerW        Number `json:"power_w"`
	ForecastC     Number `json:"forecast_c"`
	ForecastLowC  Number `json:"forecast_low_c"`
	ForecastHighC Number `json:"forecast_high_c"`
	EtaS          Number `json:"eta_s"`
	EtaLowS       Number `json:"eta_low_s"`
	EtaHighS      Number `json:"eta_high_s"`
	Why           string `json:"why"`
}

// Stage is one resistance and its time constant on the way from the die to the reference.
type Stage struct {
	RKPerW Number `json:"r_k_per_w"`
	TauS   Number `json:"tau_s"`
}

// ThermalPath is the way of the heat from the die to the reference.
type ThermalPath struct {
	posterior *path.Prior // what it is to a later trace of the machine

	ReferenceC      Number  `json:"reference_c"`
	ReferenceSource string  `json:"reference_source"`
	OffsetK         Number  `json:"offset_k"` // die sensor above the reference at no power, where that is measured
	RthKPerW        Number  `json:"rth_k_per_w"`
	RthLowKPerW     Number  `json:"rth_low_k_per_w"`
	RthHighKPerW    Number  `json:"rth_high_k_per_w"`
	Stages          []Stage `json:"stages"`
	NearKPerW       Number  `json:"near_k_per_w"`
	NearLowKPerW    Number  `json:"near_low_k_per_w"`
	NearHighKPerW   Number  `json:"near_high_k_per_w"`
	FarKPerW        Number  `json:"far_k_per_w"`
	FarLowKPerW     Number  `json:"far_low_k_per_w"`
	FarHighKPerW    Number  `json:"far_high_k_per_w"`
	// Budget is what the uncertainty of rth is made of (JCGM 100:2008, 5.1).
	Budget []BudgetLine `json:"budget"`
	Why    string       `json:"why"`
}

// Headroom is what this cooler would carry at the user's temperature limit.
type Headroom struct {
	LimitC Number `json:"limit_c"`
	// LimitSource is "given" by the user, "reported" by the hardware or "assumed".
	LimitSource string `json:"limit_source"`
	MarginK     Number `json:"margin_k"`
	PowerW      Number `json:"power_w"`
	PowerLowW   Number `json:"power_low_w"`
	PowerHighW  Number `json:"power_high_w"`
	MarginW     Number `json:"margin_w"`
	NextStepW   Number `json:"next_step_w"`
	TestedToW   Number `json:"tested_to_w"`
	Why         string `json:"why"`
}

// Averages are time-weighted over the load spans; a 1 % low is the mean of the lowest
// hundredth.
type Averages struct {
	PowerW         Number `json:"power_w"`
	PowerLow1PctW  Number `json:"power_low_1pct_w"`
	ClockMHz       Number `json:"clock_mhz"`
	ClockLow1Pct   Number `json:"clock_low_1pct_mhz"`
	DieC           Number `json:"die_c"`
	DieMaxC        Number `json:"die_max_c"`
	ThermalHitsPct Number `json:"thermal_hits_pct"` // share of the load spent at the thermal limit
	LoadS          Number `json:"load_s"`
}
