// Package thermal holds the heat side of filament extrusion: heating of the
// moving rod, thermal entrance flow, viscous heating, solidification, feed
// limits, and the energy balance of the heater block.
//
// Inputs are plain lengths, speeds and properties in SI, so that the package
// stands below the hot-end geometry.
package thermal
