// Package next ranks what to change, measure or repeat next, from the findings of one
// recording and, where there is one, its comparison with an earlier setup.
//
// The rules are data: a table of names, conditions over named findings, sentences,
// expected gains and cautions. A small engine evaluates them in three values: a rule
// holds, does not hold, or cannot be decided because a finding is not known, and then its
// question is listed as undetermined with the reason. It finds nothing itself, it must not
// know traces' files, the archive or where the list is shown, and it changes no limit.
package next
