//go:build race

package cure

// manySlabs are drawn under the race detector, which is ten times slower and has
// nothing to find where nothing runs at once.
const manySlabs = 100_000
