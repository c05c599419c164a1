// Package loadcell reads load-cell logs from any logger and learns from them:
// plateaus, peaks, the cause of failure, ripple, and repeats with their
// confidence. It never drops a row in silence.
package loadcell
