package season

import (
	"context"
	"fmt"
	"testing"
	"time"
)

func TestSearch(t *testing.T) {
	for _, p := range []Problem{scenario(2, true), scenario(2, false), scenario(3, false)} {
		t0 := time.Now()
		pl, err := Search(context.Background(), p)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(pl.Minutes, pl.Needless, pl.Late, pl.Kept, pl.Tried, pl.Hindrance, time.Since(t0))
		for _, c := range pl.Season.Stages[0].Classes {
			fmt.Println(c.Interval, c.Table, pl.Season.Stages[0].Cuts)
		}
	}
}
