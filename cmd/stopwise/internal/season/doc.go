// Package season keeps the visits of a season in one file, an SQLite database:
// fields, visits, every answer a scout gave, the plan used, what the scout was
// told, and when to come back.
//
// For most uses, [Open] a file, get a [Visit] with [File.Resume] or [NewVisit],
// and give [File.Append] one [Entry] after the other; it returns when the entry
// is on the disk. Entries are only ever added: a correction is one more entry,
// and the database refuses to change or delete any. A visit's verdict and next
// visit follow from its plan and entries by [Judge]; [File.Verify] recomputes
// them all.
//
// The package has no clock: dates and times are given to it.
package season
