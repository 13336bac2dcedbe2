// Package search finds decision tables: the table with the least walking whose
// exact risks hold in every world asked for, straight lines, visits of a fixed
// number of stops, and a bound that no plan can beat. It knows fields only as
// [sampling.Population].
package search
