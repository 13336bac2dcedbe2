// Package pilot reads pilot counts: what scouts saw, stop by stop, in fields
// where more was looked at than a decision needs. Constants are fitted to such
// data, and plans are tried out on them.
//
// For most uses, call [Read]:
//
//	data, err := pilot.Read(file)
//	for _, f := range data.Fields {
//		for _, s := range f.Stops {
//			fmt.Println(f.Label(), s.Name, s.Infested, s.Plants)
//		}
//	}
//
// The table has a header; columns are known by name, in any order and in any
// case. Three layouts are read:
//
//	field,stop,plants,infested      one row a stop
//	field,stop,plant,infested       one row a plant, infested being 0 or 1
//	field,stop,plant,leaf,count     one row a leaf, with its number of insects
//
// The columns date, stage, visit, x and y are optional in each. So is at_cap, with yes
// where looking ended once so many were found: such a stop, of which too little is
// known, is refused. Other columns are
// ignored, and named in the result. Commas, semicolons, tabs or bars part the
// columns, as the header has them. Text is UTF-8, or UTF-16 with its byte order
// mark; dates are 2026-05-14 or 14.5.2026; places may have decimal commas.
//
// A file with a fault is refused as a whole: no row is dropped. All faults of
// a file are found in one reading, see [Errors]. The package does not know
// where the table came from; the caller adds the name of the file.
package pilot
