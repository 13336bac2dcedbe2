// Package layout lays out the stops of a visit in a real field.
//
// For most uses, make a [Field] with [Rectangle] or [ReadGeoJSON], a [Ground] of
// it with [NewGround], and let [Ground.Lay] place the stops. A verdict that comes
// early has seen only the beginning of a route. So the stops are placed and
// ordered in such a way that every beginning of the route on which a verdict can
// come is balanced over the whole field, with little walking.
package layout
