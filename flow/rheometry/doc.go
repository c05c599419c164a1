// Package rheometry computes what a melt flow indexer (ISO 1133-1) would measure on a viscosity law, and scales a law
// to a measured melt flow rate. The evaluation of capillary measurements (ISO 11443), which no command reaches, stands
// in flow/reference.
package rheometry
