package analysis

// BudgetLine is one component of the uncertainty of the resistance.
type BudgetLine struct {
	What     string `json:"what"`
	UKPerW   Number `json:"u_k_per_w"` // standard uncertainty
	SharePct Number `json:"share_pct"` // of the variance; null where the component is not counted
	// Common components are the same in every trace of one machine: they cancel between its
	// runs and are not in the interval.
	Common bool `json:"common"`
}

// HotSpot is one core against its neighbours at load. Intervals are 90 %.
type HotSpot struct {
	Core           string `json:"core"` // the hottest one's name
	SpreadK        Number `json:"spread_k"`
	SpreadLowK     Number `json:"spread_low_k"`
	SpreadHighK    Number `json:"spread_high_k"`
	RestK          Number `json:"rest_k"` // the same at rest: the sensors' own offsets
	KPerW          Number `json:"k_per_w"`
	LowKPerW       Number `json:"low_k_per_w"`
	HighKPerW      Number `json:"high_k_per_w"`
	TrendK         Number `json:"trend_k"` // from the first third of the load to the last
	TrendLowK      Number `json:"trend_low_k"`
	TrendHighK     Number `json:"trend_high_k"`
	EarlierKPerW   Number `json:"earlier_k_per_w"`
	ChangeKPerW    Number `json:"change_k_per_w"`
	ChangeLowKPerW Number `json:"change_low_k_per_w"`
	ChangeHiKPerW  Number `json:"change_high_k_per_w"`
	Verdict        string `json:"verdict"` // "even", "slightly uneven", "one core stands out", "undetermined"
	Change         string `json:"change"`  // against the earlier session: "grown", "shrunk", "unchanged", "undetermined"; "" without one
	Why            string `json:"why"`
}

// Coolant is the heat that a liquid loop carries against package power.
type Coolant struct {
	Liquid          string `json:"liquid"`
	FlowLMin        Number `json:"flow_l_min"`
	InC             Number `json:"in_c"`
	OutC            Number `json:"out_c"`
	HeatW           Number `json:"heat_w"`
	HeatLowW        Number `json:"heat_low_w"`
	HeatHighW       Number `json:"heat_high_w"`
	PowerW          Number `json:"power_w"`
	DifferenceW     Number `json:"difference_w"` // power less heat
	DifferenceLowW  Number `json:"difference_low_w"`
	DifferenceHighW Number `json:"difference_high_w"`
	StandsOut       bool   `json:"stands_out"` // the difference is more than its uncertainty explains
	OffsetK         Number `json:"offset_k"`   // the two sensors' own difference, taken off; null where rest does not show it
	Possible        bool   `json:"possible"`
	Why             string `json:"why"`
}

// SecondHeat is another measured source of heat on the same cooler.
type SecondHeat struct {
	Name          string `json:"name"`           // "" where none is measured
	PowerW        Number `json:"power_w"`        // its mean under load
	SharedKPerW   Number `json:"shared_k_per_w"` // by which either rises per watt of the other
	SharedLowKPW  Number `json:"shared_low_k_per_w"`
	SharedHighKPW Number `json:"shared_high_k_per_w"`
	Known         bool   `json:"known"`
	Why           string `json:"why"`
}

// BurstWindow says whether a longer burst window would carry a job at the short-term power,
// and how hot the die would get.
type BurstWindow struct {
	JobS               Number `json:"job_s"`
	CoveredNow         *bool  `json:"covered_now"` // null where it is not known
	BurstS             Number `json:"burst_s"`     // from rest, as the limits are
	NeededTimeConstant Number `json:"needed_time_constant_s"`
	PeakC              Number `json:"peak_c"` // by the job's end, from rest
	PeakLowC           Number `json:"peak_low_c"`
	PeakHighC          Number `json:"peak_high_c"`
	OverLimit          *bool  `json:"over_limit"` // the upper end of the peak is above the user's limit
	Caution            string `json:"caution"`
	Why                string `json:"why"`
}

// Detail is the thermal path in the forms of the trade, bounded in size.
type Detail struct {
	Impedance []ImpedancePoint `json:"impedance"`
	Spectrum  []Stage          `json:"spectrum"`  // time-constant spectrum, by non-negative least squares
	Foster    []Stage          `json:"foster"`    // the fitted stages
	Cauer     []Rung           `json:"cauer"`     // the ladder that responds as they do, from the die on
	Structure []StructurePoint `json:"structure"` // cumulative structure function: a sketch of a few steps, no layer can be named by it
	Why       string           `json:"why"`
}

// ImpedancePoint is the thermal impedance at a time after a step of power.
type ImpedancePoint struct {
	TS        Number `json:"t_s"`
	ZKPerW    Number `json:"z_k_per_w"`
	LowKPerW  Number `json:"low_k_per_w"`
	HighKPerW Number `json:"high_k_per_w"`
}

// Rung is one place of a Cauer ladder.
type Rung struct {
	RKPerW Number `json:"r_k_per_w"`
	CJPerK Number `json:"c_j_per_k"`
}

// StructurePoint is how much heat capacity lies within how much resistance from the die.
type StructurePoint struct {
	RKPerW Number `json:"r_k_per_w"`
	CJPerK Number `json:"c_j_per_k"`
}
