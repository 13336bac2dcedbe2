package pilot_test

import (
	"fmt"
	"strings"

	"stopwise/sampling/pilot"
)

func ExampleRead() {
	table := `field,stop,plants,infested
Long Rill 1,1,20,3
Long Rill 1,2,20,0
Stony Ten,1,20,9
`
	data, err := pilot.Read(strings.NewReader(table))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range data.Fields {
		fmt.Printf("%s: %d stops, %d of %d plants infested\n", f.Label(), len(f.Stops), f.Infested(), f.Plants())
	}
	// Output:
	// Long Rill 1: 2 stops, 3 of 40 plants infested
	// Stony Ten: 1 stops, 9 of 20 plants infested
}

func ExampleErrors() {
	table := `field,stop,plants,infested
Long Rill 1,1,20,30
Long Rill 1,2,twenty,0
`
	_, err := pilot.Read(strings.NewReader(table))
	fmt.Println(err)
	// Output:
	// line 2, column infested: 30 infested of 20 plants; from 0 to the number of plants is accepted
	// line 3, column plants: "twenty" is not a whole number; a whole number from 1 to 100000 is accepted
}
