package report

import (
	"encoding/json"
	"fmt"

	"soakline/analysis"
)

// how says how a number was got.
type how struct{ What, How string }

// methods says how each number of the report was got, with the thresholds in use.
func methods() []how {
	th := analysis.DefaultThresholds()
	return []how{
		{"Load", fmt.Sprintf("The time in which the machine works, by its power where rest and work lie at least a factor of %.3g apart, else by its busy share above %.0f %%. Pauses of up to %.3g s belong to a load.", th.Load.Ratio, th.Load.BusyPct, th.Load.Gap)},
		{"Held by", "What kept the chip from going faster at each instant: the hardware's own reasons where it reports them, else the most likely explanation of power, clock and temperature (a hidden Markov model). Where its confidence is below 70 % the ribbon has half its height."},
		{"Burst, long-term limit, time constant", fmt.Sprintf("Levels of power held for at least %.3g s; the burst ends where the running average of the power reaches the lower level. A fall within %.3g K of the thermal limit counts as caused by heat.", th.Step.Settled, th.Step.HotK)},
		{"Settled, forecast", fmt.Sprintf("Settled: the die stays within %.3g K for at least %.3g s, and what may still come is smaller than %.3g K. Else the forecast is where the fitted path leads at the present power.", th.Steady.BandK, th.Steady.Shortest, th.Steady.RemainK)},
		{"Die to reference, near part, far part", fmt.Sprintf("A ladder of thermal stages fitted to power and die temperature over the whole session. Stages faster than about %.3g s are the near part: die, spreader, paste or pads, mounting. The rest is the far part: block, pipes or coolant, fins, air.", th.Path.NearTauS)},
		{"Power at the limit", fmt.Sprintf("The settled rise over the reference, scaled to the temperature limit; its interval widens with the distance from the tested power. For the next try at most %.3g times the tested power is advised.", th.Headroom.Step)},
		{"Mean, 1 % low", "Weighted by time over the load; a 1 % low is the mean of the lowest hundredth of the time."},
		{"Intervals", "Of one session: 90 %, which is to hold the truth nine times in ten. Of changes: 95 %, from the scatter between runs (Welch 1947, on the logarithmic scale); with one run a side there is none, and whether the change is real stays open."},
		{"Near and far against A", "Both sessions fitted together, so that what is common to them cancels; ratios with 90 % intervals."},
		{"Gaps", "A sensor that failed, vanished or gave an impossible value leaves a gap; nothing is filled in."},
	}
}

// thresholds lists every constant of judgement as JSON.
func thresholds() string {
	b, err := json.MarshalIndent(analysis.DefaultThresholds(), "", " ")
	if err != nil { // an infinite threshold cannot be written
		return ""
	}
	return string(b)
}

// cautions stand in every report.
var cautions = []string{
	"The maker's limits and local rules come first. Raise a limit in small steps and stay with the machine.",
	"Stop on smell, smoke, leak or a swelling battery.",
	"Power off and unplug before opening. Coolant and live electronics do not mix; conductive paste or missing pads can short power stages.",
	"Battery packs and mains parts belong to qualified people.",
	"An answer beyond the tested power is extrapolated; its interval says how far it may be off.",
}
