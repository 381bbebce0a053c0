package frontend

import (
	"os"
	"testing"

	"flitchbook/frontend/browsertest"
)

func TestMain(m *testing.M) { os.Exit(browsertest.Main(m)) }
