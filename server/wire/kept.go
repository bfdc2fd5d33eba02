package wire

import (
	"time"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/say"
)

// Kept is a session of the archive as the list shows it. Its texts are untrusted.
type Kept struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"` // what the user calls it, or ""
	Start     *time.Time `json:"start"`
	Stored    time.Time  `json:"stored"`
	LengthS   float64    `json:"length_s"`
	Channels  int        `json:"channels"`
	Rows      int64      `json:"rows"`
	State     string     `json:"state"` // "recording", "closed", "broken off"
	Why       string     `json:"why"`   // why it ended
	Origin    string     `json:"origin"`
	Host      string     `json:"host"`
	Simulated bool       `json:"simulated"`
	Pinned    bool       `json:"pinned"`
	Deleted   *time.Time `json:"deleted"` // null where it is not
	Setup     []Setting  `json:"setup"`
	Scores    []Score    `json:"scores"`
	Marks     int        `json:"marks"`
	Bytes     int64      `json:"bytes"`
	Shown     bool       `json:"shown"` // it is the one that this program shows live
}

// KeptList is the answer of GET /api/sessions.
type KeptList struct {
	Sessions []Kept `json:"sessions"`
	More     bool   `json:"more"` // there are others beyond the limit of the list
}

// KeptLayout is the layout of a session of the archive.
type KeptLayout struct {
	Layout
	Kept Kept `json:"kept"`
}

// KeptAnalysis is what a session of the archive shows.
type KeptAnalysis struct {
	Say     say.Line        `json:"say"`
	Result  analysis.Result `json:"result"`
	Earlier []string        `json:"earlier"` // sessions taken as prior knowledge
}

// Side is one side of a comparison: runs of one and the same setup.
type Side struct {
	Letter string `json:"letter"` // "A", "B" ...
	Runs   []Run  `json:"runs"`
}

// Run is one session on a side.
type Run struct {
	Kept     Kept            `json:"kept"`
	LoadS    analysis.Number `json:"load_start_s"` // null where no load was found
	LoadEndS analysis.Number `json:"load_end_s"`
	PowerW   analysis.Number `json:"power_w"` // sustained under that load
	Warnings []string        `json:"warnings"`
}

// Against is one side held against the first.
type Against struct {
	A          string             `json:"a"`
	B          string             `json:"b"`
	Say        string             `json:"say"` // the verdict in a sentence
	Comparison compare.Comparison `json:"comparison"`
}

// Compared is the answer of GET /api/compare.
type Compared struct {
	Sides       []Side    `json:"sides"`
	Comparisons []Against `json:"comparisons"`
}
