package wire

import (
	"encoding/json"
	"time"

	"soakline/analysis"
	"soakline/analysis/say"
)

// Layout is the answer of GET /api/layout: everything that the page must know before
// the first row.
type Layout struct {
	Version         int                        `json:"version"`
	Session         Session                    `json:"session"`
	ChannelsVersion uint32                     `json:"channels_version"`
	Channels        []Channel                  `json:"channels"`
	Lanes           []Lane                     `json:"lanes"`
	Charts          map[string]json.RawMessage `json:"charts"` // option skeletons by lane id
	States          []string                   `json:"states"` // reason by state number, "" where a value stands
	Limiters        []Limiter                  `json:"limiters"`
	Token           string                     `json:"token"`
	Rig             *Rig                       `json:"rig"`
	Setup           []Setting                  `json:"setup"`
	LastSetup       *LastSetup                 `json:"last_setup"` // null where the machine has no earlier session
	Marks           []Mark                     `json:"marks"`
	Scores          []Score                    `json:"scores"`
	Missing         []Missing                  `json:"missing"`
	LimitC          analysis.Number            `json:"limit_c"`
	LastSeq         uint64                     `json:"last_seq"`
	Ended           string                     `json:"ended"` // why the session ended, "" while it runs
}

// LastSetup is the setup of the machine's last session, to be taken over, and what
// differs from it now.
type LastSetup struct {
	Session string       `json:"session"`
	Setup   []Setting    `json:"setup"` // those conditions that the present setup lacks
	Changed []Difference `json:"changed"`
}

// Difference is a condition that stands otherwise in two setups; "" is not there.
type Difference struct {
	Key    string `json:"key"`    // untrusted text
	Before string `json:"before"` // untrusted text
	Now    string `json:"now"`    // untrusted text
}

// Score is what a run achieved.
type Score struct {
	Name           string  `json:"name"` // untrusted text
	Value          float64 `json:"value"`
	Unit           string  `json:"unit"` // untrusted text
	HigherIsBetter bool    `json:"higher_is_better"`
	AtS            float64 `json:"at_s"`
}

// Session says what is being recorded.
type Session struct {
	ID        string    `json:"id"`
	Start     time.Time `json:"start"`
	Host      string    `json:"host"`
	Origin    string    `json:"origin"`
	Simulated bool      `json:"simulated"`
	PeriodS   float64   `json:"period_s"`
}

// Channel is one column of the rows.
type Channel struct {
	Index     int         `json:"index"`
	Key       string      `json:"key"`
	Name      string      `json:"name"`     // untrusted text
	Unit      string      `json:"unit"`     // as screens show it: "°C"
	Quantity  string      `json:"quantity"` // in plain words: "temperature"
	Role      string      `json:"role"`
	Source    string      `json:"source"`
	Device    string      `json:"device"` // untrusted text
	RefreshS  float64     `json:"refresh_s"`
	Labels    []string    `json:"labels"`
	Bits      []ReasonBit `json:"bits"`
	Simulated bool        `json:"simulated"`
}

// ReasonBit explains one bit of a reason mask. A mask travels as a float32, which
// holds every whole number up to 2^24: sources keep their masks below that.
type ReasonBit struct {
	Mask    uint64 `json:"mask"`
	Name    string `json:"name"`
	Limiter string `json:"limiter"`
}

// Lane is one of the lanes that share the time axis.
type Lane struct {
	ID       string  `json:"id"` // "power", "temperature", "clock"
	Title    string  `json:"title"`
	Unit     string  `json:"unit"`
	Channels []int   `json:"channels"` // indexes of what is drawn at first, the most telling first
	More     []int   `json:"more"`     // others of the same quantity, drawn when asked for
	Limits   []Limit `json:"limits"`
}

// Limit is a line across a lane: a constant, or the channel that holds it.
type Limit struct {
	Name    string   `json:"name"`
	Value   *float64 `json:"value,omitempty"`
	Channel *int     `json:"channel,omitempty"`
}

// Limiter explains a limiter kind of the contract.
type Limiter struct {
	Kind    analysis.Kind `json:"kind"`
	Title   string        `json:"title"`
	Meaning string        `json:"meaning"`
}

// Rig lists the setups of the simulated machine.
type Rig struct {
	Setups   []RigSetup `json:"setups"`
	Selected string     `json:"selected"`
}

// RigSetup is one setup of the simulated machine.
type RigSetup struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	About string `json:"about"`
}

// Setting is one condition of the setup.
type Setting struct {
	Key   string `json:"key"`
	Value string `json:"value"`
}

// Mark is a note pinned to a time.
type Mark struct {
	ID   int64   `json:"id"`
	AtS  float64 `json:"at_s"`
	Kind string  `json:"kind"`
	Text string  `json:"text"` // untrusted text
}

// Missing is a channel that could be there and is not.
type Missing struct {
	Name   string `json:"name"`
	Source string `json:"source"`
	Role   string `json:"role"`
	Reason string `json:"reason"`
	Remedy string `json:"remedy"`
}

// Self is the program's own cost.
type Self struct {
	CPUPct    analysis.Number `json:"cpu_pct"`     // of one core
	RSSMiB    analysis.Number `json:"rss_mib"`     //
	LateMsP99 analysis.Number `json:"late_ms_p99"` // of the sampler's ticks
	Viewers   int             `json:"viewers"`
	Keeping   Keeping         `json:"keeping"`
}

// Keeping says how the record on the disk stands.
type Keeping struct {
	State string `json:"state"` // "recording", "paused", "closed", or "" where nothing is kept
	Why   string `json:"why"`   // why it is paused; untrusted text
}

// Analysis is the analysis event and the answer of GET /api/analysis.
type Analysis struct {
	Kind   EventKind       `json:"kind"`
	Say    say.Line        `json:"say"`
	Result analysis.Result `json:"result"`
	Self   Self            `json:"self"`
}

// Error is the body of every answer that is not a success.
type Error struct {
	Error string `json:"error"`
}
