package search

import "encoding/binary"

// LineScores remembers what tables of lines need and risk, which does not depend on
// the risks allowed: problems that differ in these only may share one, and then look
// for lines around one grid. It is for one goroutine.
type LineScores struct{ known map[string]score }

// NewLineScores returns an empty memory.
func NewLineScores() *LineScores { return &LineScores{map[string]score{}} }

func (m *LineScores) of(e *engine, t *Table) score {
	key := make([]byte, 0, 4*len(t.Leave))
	for j := range t.Leave {
		key = binary.AppendVarint(key, int64(t.Leave[j]))
		key = binary.AppendVarint(key, int64(t.Act[j]))
	}
	sc, ok := m.known[string(key)]
	if !ok {
		sc = e.quick(t)
		m.known[string(key)] = sc
	}
	return sc
}
