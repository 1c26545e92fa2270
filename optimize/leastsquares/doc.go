// Package leastsquares is one local search: it minimises half a sum of squares in a box, subject to limits
// that may not be positive, with or without whole variables. It asks for points and is told what they gave,
// so that the caller evaluates, counts and keeps them.
//
// Each step minimises a quadratic model of the sum of squares with the limits made linear, inside a trust
// region that is a box, so that bounds, limits and region are all sides of one small convex program
// (program): a variable that stands at its bound costs nothing more, and a valley floor is followed along its
// bounds. The multipliers of the limits come out of the same program. Limits enter by an exact price on the
// greatest of them (R. Fletcher, Practical Methods of Optimization, 1987, sections 12.3 and 14.3, with his
// second-order correction), which keeps the squares as they are and needs fewer evaluations than an augmented
// Lagrangian, since its multipliers are the program's own. The price rises when the program would rather pay
// than come nearer to the limits: R. H. Byrd, J. Nocedal and R. A. Waltz, "Steering exact penalty methods",
// Optimization Methods and Software 23 (2008).
//
// The model is that of Gauss and Newton, from an orthogonal factorisation of the Jacobian, or that plus a
// secant estimate of what it leaves out, the curvature of the residuals and of the limits in force, whichever
// foretold the last step better: J. E. Dennis, D. M. Gay and R. E. Welsch, "An adaptive nonlinear
// least-squares algorithm", ACM Transactions on Mathematical Software 7 (1981) 348-368; their update of rank
// two is replaced by one of rank one. A step that is rejected tells how residuals and limits bend on the way,
// and the next one bends with them (bentStep). A function that is no sum of squares has the estimate alone,
// damped: M. J. D. Powell, "A fast algorithm for nonlinearly constrained optimization calculations" (1978).
// Where no scale is given, the columns of the Jacobian give it: J. J. Moré, "The Levenberg-Marquardt
// algorithm: implementation and theory" (1978).
//
// On a lattice every point asked for has whole coordinates. Coarse variables are whole in every model too
// (branch and bound on the program, never a relaxed evaluation: O. Exler and K. Schittkowski, "A trust region
// SQP algorithm for mixed-integer nonlinear programming", Optimization Letters 1 (2007) 269-280); the others
// are rounded. At the end the lattice near the optimum is searched on the side that keeps the limits, and the
// neighbours of the coarse variables are tried, each with the rest fitted anew.
//
// An evaluation that fails shrinks the region. Where the optimum lies on the edge of what can be evaluated at
// all, the search creeps along that edge and may need more evaluations than it is given.
package leastsquares
