package server

import (
	"encoding/json"
	"net/http"

	"soakline/analysis"
	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/server/wire"
	"soakline/web/chart"
)

// limiters explains the limiter kinds of the contract to the page.
var limiters = []wire.Limiter{
	{Kind: analysis.Idle, Title: "idle", Meaning: "There is little to do; nothing holds the chip back."},
	{Kind: analysis.Clock, Title: "highest clock", Meaning: "It runs at its highest clock; nothing else holds it back."},
	{Kind: analysis.PowerShort, Title: "short-term power limit", Meaning: "The power allowed in a burst (PL2) holds it."},
	{Kind: analysis.PowerLong, Title: "long-term power limit", Meaning: "The power allowed for good (PL1) holds it: the running average has used up the burst."},
	{Kind: analysis.Thermal, Title: "heat", Meaning: "The die is at its thermal limit and the chip slows down to stay there."},
	{Kind: analysis.Current, Title: "current limit", Meaning: "The supply's current limit holds it."},
	{Kind: analysis.Other, Title: "another limit", Meaning: "The hardware reports a limit that is none of these."},
}

// layout answers GET /api/layout.
func (s *Server) layout(w http.ResponseWriter, r *http.Request) error {
	session := s.config.Session
	last := s.published.Load()
	chs, version := session.Channels()
	info := session.Info()
	l := wire.Layout{
		Version: wire.Version,
		Session: wire.Session{ID: info.ID, Start: info.Start, Host: info.Host, Origin: string(info.Origin),
			Simulated: info.Simulated, PeriodS: info.Period.Seconds()},
		ChannelsVersion: uint32(version),
		Channels:        wireChannels(chs),
		Token:           s.access.tokenFor(r),
		Rig:             s.wireRig(),
		Setup:           wireSetup(session.Setup()),
		LastSetup:       s.wireLast(),
		Marks:           []wire.Mark{},
		Scores:          []wire.Score{},
		Missing:         []wire.Missing{},
		LastSeq:         last,
	}
	for _, m := range session.Marks() {
		l.Marks = append(l.Marks, wireMark(m))
	}
	for _, sc := range session.Scores() {
		l.Scores = append(l.Scores, wireScore(sc))
	}
	for _, m := range session.Missing() {
		l.Missing = append(l.Missing, wire.Missing{Name: m.Name, Source: m.Source, Role: string(m.Role), Reason: m.Reason, Remedy: m.Remedy})
	}
	if why, over := session.Ended(); over {
		l.Ended = why
	}
	if err := drawn(&l, chs, s.limit()); err != nil {
		return err
	}
	return writeJSON(w, l)
}

// drawn fills in what follows from the channels and the user's limit: how they are drawn,
// and in which words.
func drawn(l *wire.Layout, chs []telemetry.Channel, limitC float64) error {
	for _, c := range chs {
		l.Session.Simulated = l.Session.Simulated || c.Simulated
	}
	l.LimitC = analysis.Unknown()
	if limitC > 0 {
		l.LimitC = analysis.Number(limitC)
	}
	l.Limiters = limiters
	l.States = make([]string, telemetry.NumStates)
	for state := range l.States {
		l.States[state] = telemetry.State(state).Reason()
	}
	l.Lanes = lanes(chs, limitC)
	l.Charts = map[string]json.RawMessage{}
	for i, lane := range l.Lanes {
		option, err := chart.Option(chartLane(lane, chs, i == len(l.Lanes)-1))
		if err != nil {
			return err
		}
		l.Charts[lane.ID] = option
	}
	return nil
}

func wireChannels(chs []telemetry.Channel) []wire.Channel {
	out := make([]wire.Channel, len(chs))
	for i, c := range chs {
		out[i] = wire.Channel{Index: i, Key: c.Key, Name: c.Name, Unit: c.Quantity.Symbol(), Quantity: c.Quantity.String(),
			Role: string(c.Role), Source: c.Source, Device: c.Device, RefreshS: c.Refresh.Seconds(),
			Labels: append([]string{}, c.Labels...), Bits: []wire.ReasonBit{}, Simulated: c.Simulated}
		for _, b := range c.Bits {
			out[i].Bits = append(out[i].Bits, wire.ReasonBit{Mask: b.Mask, Name: b.Name, Limiter: b.Limiter})
		}
	}
	return out
}

func wireMark(m telemetry.Mark) wire.Mark {
	return wire.Mark{ID: m.ID, AtS: m.At, Kind: string(m.Kind), Text: m.Text}
}

func wireScore(sc telemetry.Score) wire.Score {
	return wire.Score{Name: sc.Name, Value: sc.Value, Unit: sc.Unit, HigherIsBetter: sc.HigherIsBetter, AtS: sc.At}
}

// wireLast offers the setup of the machine's last session.
func (s *Server) wireLast() *wire.LastSetup {
	last := s.config.Last
	if last.ID == "" {
		return nil
	}
	now := s.config.Session.Setup()
	out := &wire.LastSetup{Session: last.ID, Setup: wireSetup(session.TakeOver(last.Setup, now)), Changed: []wire.Difference{}}
	for _, d := range session.Differences(last.Setup, now) {
		out.Changed = append(out.Changed, wire.Difference(d))
	}
	return out
}

func wireSetup(setup []telemetry.Setting) []wire.Setting {
	out := make([]wire.Setting, len(setup))
	for i, kv := range setup {
		out[i] = wire.Setting(kv)
	}
	return out
}

func (s *Server) wireRig() *wire.Rig {
	if s.config.Rig == nil {
		return nil
	}
	return &wire.Rig{Setups: s.config.Rig.Setups(), Selected: s.config.Rig.Selected()}
}
