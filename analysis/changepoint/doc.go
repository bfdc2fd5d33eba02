// Package changepoint owns the search for shifts of the mean of a series: offline, exact
// and near-linear in its length, with a cost that shrugs off outliers; online, by a
// cumulative sum with a stated rate of false alarms; and how well a shift is placed.
//
// It knows numbers by index only: no time, unit or channel. NaN values must be left out
// by the caller; too little data gives no changes, never a panic. A change is given as
// the index of the first value of the new regime.
package changepoint
