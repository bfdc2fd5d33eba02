// Package conditions watches a running session for changes of the machine's own
// conditions (power limits, their window, the thermal limit, and whatever a channel of
// text tells: lid, mains, platform profile) and marks each in the session.
//
// It looks at rows alone: it knows nothing of sensors, archives or the server.
package conditions
