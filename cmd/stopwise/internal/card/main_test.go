package card

import (
	"os"
	"testing"

	"stopwise/cmd/stopwise/internal/browsertest"
)

func TestMain(m *testing.M) { os.Exit(browsertest.Main{M: m}.Run()) }
