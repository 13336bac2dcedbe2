// Package rule holds the one rule of a visit and what it does, whatever made it.
//
// For most uses, make a [Table], ask [Table.At] or [Table.Verdict] what a scout
// is told, and [Evaluate] what the table does in a field: the exact chances of
// both verdicts, and what a visit takes. [Follow] does the same for a walk that
// has begun or that saw other numbers of units than planned.
// A [Visit] says what is known of a field after a walk that may have stopped early.
package rule
