package compare

import "soakline/analysis"

// Schema names the form of Comparison; fields are added, never renamed or removed.
const Schema = "soakline.comparison/1"

// Comparison is B against A. Ratios are B over A.
type Comparison struct {
	Schema       string          `json:"schema"`
	SetupChanges []SettingChange `json:"setup_changes"`
	ThermalPath  ThermalPath     `json:"thermal_path"`
	Metrics      []Metric        `json:"metrics"`
	Warnings     []string        `json:"warnings"`
}

// SettingChange is one condition that differs; "" where a side does not name it.
type SettingChange struct {
	Key string `json:"key"`
	A   string `json:"a"`
	B   string `json:"b"`
}

// Verdict says which part of the heat's way has changed.
type Verdict string

// The verdicts.
const (
	Near         Verdict = "near"
	Far          Verdict = "far"
	Both         Verdict = "both"
	None         Verdict = "none"
	Undetermined Verdict = "undetermined"
)

// ThermalPath says where the path differs. Near is die to block (contact, paste,
// mounting), far the block and all beyond (fins, air, coolant). Intervals are 90 %.
type ThermalPath struct {
	Verdict     Verdict         `json:"verdict"`
	NearRatio   analysis.Number `json:"near_ratio"`
	NearLow     analysis.Number `json:"near_low"`
	NearHigh    analysis.Number `json:"near_high"`
	FarRatio    analysis.Number `json:"far_ratio"`
	FarLow      analysis.Number `json:"far_low"`
	FarHigh     analysis.Number `json:"far_high"`
	SeparationS analysis.Number `json:"separation_s"` // after a step of power; null where they never part
	Why         string          `json:"why"`
	// The fitted resistances behind the ratios, for the picture, K/W.
	NearA analysis.Number `json:"near_a_k_per_w"`
	FarA  analysis.Number `json:"far_a_k_per_w"`
	NearB analysis.Number `json:"near_b_k_per_w"`
	FarB  analysis.Number `json:"far_b_k_per_w"`
}

// Metric is one figure of merit; the interval of the change is 95 %.
type Metric struct {
	Name      string          `json:"name"`
	Unit      string          `json:"unit"`
	NA        int             `json:"n_a"`
	NB        int             `json:"n_b"`
	A         analysis.Number `json:"a"`
	B         analysis.Number `json:"b"`
	ChangePct analysis.Number `json:"change_pct"`
	LowPct    analysis.Number `json:"low_pct"`
	HighPct   analysis.Number `json:"high_pct"`
	Real      *bool           `json:"real"` // null where runs are missing
	Why       string          `json:"why"`  // what is missing, or what could be shown with these runs
	// RunsNeeded is how many runs a side would show a change of this size four times in
	// five, at the scatter seen; null where it cannot be said.
	RunsNeeded analysis.Number `json:"runs_needed"`
	// HigherIsBetter says which way is better, where a score says so; else null.
	HigherIsBetter *bool `json:"higher_is_better"`
}
