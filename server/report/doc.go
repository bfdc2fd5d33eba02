// Package report makes the evidence that is shown to others: one HTML file with
// everything inside, and its tables as Markdown and as plain text.
//
// It finds nothing itself: findings come from analysis.Analyze, differences from
// compare.Compare, sentences from say.Of, pictures from server/picture. Names, marks,
// conditions and the question are untrusted text: html/template escapes them by context,
// and data for the script stands in a block of type application/json.
//
// It must not know the archive, HTTP or flags.
package report
