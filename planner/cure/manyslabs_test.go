//go:build !race

package cure

// manySlabs are drawn in every run.
const manySlabs = 2_000_000
