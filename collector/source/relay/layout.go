package relay

import (
	"math"
	"slices"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// layout is the part of /api/layout that is needed here.
type layout struct {
	Version int `json:"version"`
	Session struct {
		ID      string  `json:"id"`
		Host    string  `json:"host"`
		PeriodS float64 `json:"period_s"`
	} `json:"session"`
	ChannelsVersion uint32    `json:"channels_version"`
	Channels        []channel `json:"channels"`
	Setup           []setting `json:"setup"`
	Marks           []mark    `json:"marks"`
	Missing         []struct {
		Name   string `json:"name"`
		Role   string `json:"role"`
		Reason string `json:"reason"`
		Remedy string `json:"remedy"`
	} `json:"missing"`
	LastSeq uint64 `json:"last_seq"`
	Ended   string `json:"ended"`
}

type channel struct {
	Key      string   `json:"key"`
	Name     string   `json:"name"`
	Quantity string   `json:"quantity"`
	Role     string   `json:"role"`
	Device   string   `json:"device"`
	RefreshS float64  `json:"refresh_s"`
	Labels   []string `json:"labels"`
	Bits     []struct {
		Mask    uint64 `json:"mask"`
		Name    string `json:"name"`
		Limiter string `json:"limiter"`
	} `json:"bits"`
	Simulated bool `json:"simulated"`
}

// period is the time between two rows of the other computer.
func (l *layout) period() time.Duration {
	if !(l.Session.PeriodS >= 0.01 && l.Session.PeriodS <= 60) {
		return 100 * time.Millisecond
	}
	return time.Duration(math.Round(l.Session.PeriodS * float64(time.Second)))
}

// telemetry is the channel as it is offered here: under its own key, so that a session
// recorded there and one recorded here can be compared.
func (c *channel) telemetry(host string) telemetry.Channel {
	out := telemetry.Channel{Key: c.Key, Name: c.Name, Quantity: quantityNamed(c.Quantity), Role: telemetry.Role(c.Role), Source: name,
		Device: host + ": " + c.Device, Refresh: time.Duration(math.Max(0, math.Min(c.RefreshS, 86400)) * float64(time.Second)),
		Simulated: c.Simulated}
	if out.Quantity == quantity.Label {
		out.Labels = slices.Clone(c.Labels)
	}
	for _, b := range c.Bits {
		out.Bits = append(out.Bits, telemetry.ReasonBit{Mask: b.Mask, Name: b.Name, Limiter: b.Limiter})
	}
	if !slices.Contains(telemetry.Roles(), out.Role) {
		out.Role = telemetry.RoleNone
	}
	return out
}

func quantityNamed(text string) quantity.Kind {
	for k := quantity.Temperature; k <= quantity.Resistance; k++ {
		if k.String() == text {
			return k
		}
	}
	return quantity.Unknown
}

// sameChannels says whether two layouts have the same columns and conditions.
func sameOffer(a, b *layout) bool {
	return a != nil && a.Session.ID == b.Session.ID && a.ChannelsVersion == b.ChannelsVersion && len(a.Channels) == len(b.Channels) &&
		slices.Equal(a.Setup, b.Setup) && slices.Equal(a.Missing, b.Missing)
}
