// Package season follows a field through a season of visits. The promise of a
// plan's table is for one visit; a field is visited again and again, and the pest
// grows between the visits.
//
// For most uses, fill in a [Season] (the stages, the tables and intervals of their
// visits) and make a [Chain] of it: [Chain.Follow] returns, for a [Course] of the
// pest in a field, the exact chances of what happens until a treatment or the end
// of the season. [Search] chooses tables and intervals for the least work under
// promises for the whole season, [Trade] compares schedules, and [Region.Weeks]
// adds up the work of many fields.
//
// Visits count as independent of each other given the level. That holds where
// every visit starts its route anew: the same stops again and again meet the same
// spots.
//
// Visits linked through the growth of the pest are the idea of van der Werf, W.,
// Nyrop, J.P., Binns, M.R. & Kovach, J. (1997) Adaptive frequency classification: a
// new methodology for pest monitoring and its application to European red mite.
// Exp. Appl. Acarol. 21: 431-462, where they are simulated.
package season
