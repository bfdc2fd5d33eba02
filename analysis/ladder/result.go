package ladder

import (
	"soakline/analysis"
	"soakline/analysis/compare"
)

// Schema names the form of Ladder; fields are added, never renamed or removed.
const Schema = "soakline.ladder/1"

// Ladder is the setups of one machine in the order in which they were tried.
type Ladder struct {
	Schema    string   `json:"schema"`
	Machine   string   `json:"machine"` // "" where no recording says
	Simulated bool     `json:"simulated"`
	Stock     int      `json:"stock"` // place of stock in rungs
	Rungs     []Rung   `json:"rungs"`
	Drift     []Drift  `json:"drift"`
	Warnings  []string `json:"warnings"`
}

// Rung is one setup with its runs.
type Rung struct {
	Letter  string                  `json:"letter"`
	Name    string                  `json:"name"`
	Setup   []compare.SettingChange `json:"setup"` // key and, in b, value
	Runs    []RunInfo               `json:"runs"`
	Changed []compare.SettingChange `json:"changed"` // against the one before
	Since   []compare.SettingChange `json:"since"`   // against stock
	// Say is in words what changed and what it brought; more than one change is said first.
	Say     string   `json:"say"`
	Figures []Figure `json:"figures"`
	Held    []Held   `json:"held"`
	// Path compares the heat's way with that of the setup before and of stock; null for
	// the first, or for stock itself.
	PathBefore *compare.ThermalPath `json:"path_before"`
	PathStock  *compare.ThermalPath `json:"path_stock"`
	Warnings   []string             `json:"warnings"`
}

// RunInfo is one run of a setup.
type RunInfo struct {
	ID     string  `json:"id"`
	Place  int     `json:"place"` // in the order of all runs, from 1
	Within []Width `json:"within"`
}

// Width is how a channel lies within one run under load, the burst apart: median and 1 %
// low with 90 % intervals by the stationary bootstrap.
type Width struct {
	Channel    string          `json:"channel"`
	Unit       string          `json:"unit"`
	N          int             `json:"n"`
	EffectiveN analysis.Number `json:"effective_n"` // independent values that the mean is worth
	Median     analysis.Number `json:"median"`
	MedianLow  analysis.Number `json:"median_low"`
	MedianHigh analysis.Number `json:"median_high"`
	Low1Pct    analysis.Number `json:"low_1pct"`
	Low1Low    analysis.Number `json:"low_1pct_low"`
	Low1High   analysis.Number `json:"low_1pct_high"`
}

// Better says which way a figure should go.
type Better string

// The ways.
const (
	More    Better = "more"
	Less    Better = "less"
	Neither Better = "neither"
)

// Figure is one figure of merit of a setup. Its own interval is 90 %: between runs where
// there are several, else that of the one run's analysis, where it has one. Changes have
// 95 % intervals.
type Figure struct {
	Name   string          `json:"name"`
	Unit   string          `json:"unit"`
	Better Better          `json:"better"`
	N      int             `json:"n"`
	Value  analysis.Number `json:"value"`
	Low    analysis.Number `json:"low"`
	High   analysis.Number `json:"high"`
	Stock  *compare.Metric `json:"against_stock"`  // null for stock
	Before *compare.Metric `json:"against_before"` // null for the first
	Why    string          `json:"why"`            // what its interval is, or why there is no value
}

// Held is how long one limiter held the setup's runs.
type Held struct {
	Kind analysis.Kind   `json:"kind"`
	Pct  analysis.Number `json:"pct"` // of the time under load
	S    analysis.Number `json:"s"`   // mean a run
}

// Drift is what a figure did across the series, setups taken out.
type Drift struct {
	Name      string          `json:"name"`
	Unit      string          `json:"unit"`
	N         int             `json:"n"`
	PctPerRun analysis.Number `json:"pct_per_run"`
	Low       analysis.Number `json:"low_pct"`
	High      analysis.Number `json:"high_pct"`
	P         analysis.Number `json:"p"` // by permutation within setups
	Real      *bool           `json:"real"`
	Say       string          `json:"say"`
}
