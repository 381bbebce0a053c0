package cure

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"
)

// python is the system's, where scipy is.
const python = "/usr/bin/python3"

// The diffusion equation solved by SciPy: collocation on Chebyshev points stepped by the
// matrix exponential, which knows neither series. The finite dose is its running total,
// held at 0 in the middle and at 1 at the face; its slope in the middle is the level.
const byScipy = `
import json, sys
import numpy as np
from scipy.linalg import expm
n = 96
k = np.arange(n + 1)
x = np.cos(np.pi * k / n)
c = np.where((k == 0) | (k == n), 2.0, 1.0) * (-1.0) ** k
X = np.tile(x, (n + 1, 1)).T
D = np.outer(c, 1 / c) / (X - X.T + np.eye(n + 1))
D -= np.diag(D.sum(axis=1))
D2 = D @ D
inner = slice(1, n)
A, faces = D2[inner, inner], D2[inner, [0, n]]
w = np.zeros(n + 1)  # Clenshaw and Curtis
for i in range(n + 1):
    s = sum((1.0 if 2 * j in (0, n) else 2.0) * np.cos(2 * j * np.pi * i / n) / (1 - 4 * j * j) for j in range(n // 2 + 1))
    w[i] = s / n * (1.0 if i in (0, n) else 2.0)
w *= 2 / w.sum()
def solve(fo, upper, lower):
    still = np.linalg.solve(A, -faces @ np.array([upper, lower]))
    u = np.empty(n + 1)
    u[0], u[n] = upper, lower
    u[inner] = still + expm(A * fo) @ (0.0 - still)
    return u
out = []
for fo in json.load(sys.stdin):
    bath, dose = solve(fo, 1.0, 1.0), solve(fo, 1.0, -1.0)
    out.append({"fo": fo, "centre": bath[n // 2], "mean": float(w @ bath) / 2, "finite": float((D @ dose)[n // 2])})
json.dump(out, sys.stdout)
`

func TestSeriesAgainstScipy(t *testing.T) {
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		const lacks = "LEFT OUT: the diffusion series was not compared with SciPy, which " + python + " does not have (python3-scipy)"
		if os.Getenv("CI") == "true" {
			t.Fatal(lacks)
		}
		t.Skip(lacks)
	}
	fos := []float64{0.02, 0.03, 0.05, 0.1, 0.1583, 0.1967, 0.25, 0.3166, 0.4, 0.5, 0.6333, 1, 1.5, 3}
	in, err := json.Marshal(fos)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", byScipy)
	stdin, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	go func() { stdin.Write(in); stdin.Close() }()
	raw, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var rows []struct{ Fo, Centre, Mean, Finite float64 }
	if err := json.Unmarshal(raw, &rows); err != nil || len(rows) != len(fos) {
		t.Fatalf("%v: %s", err, raw)
	}
	worst := 0.0
	for _, r := range rows {
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"constant centre", ConstantCentre(r.Fo), r.Centre},
			{"constant mean", ConstantMean(r.Fo), r.Mean},
			{"finite centre", FiniteCentre(r.Fo), r.Finite},
		} {
			d := math.Abs(c.got - c.want)
			worst = max(worst, d)
			if !(d <= 1e-6) {
				t.Errorf("Fo %v: %s %.9f, SciPy %.9f", r.Fo, c.what, c.got, c.want)
			}
		}
	}
	t.Logf("%d figures, at most %.1g apart", 3*len(rows), worst)
}
