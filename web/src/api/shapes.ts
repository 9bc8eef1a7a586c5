/** The shapes of the wire by their names; all of them are generated, none is written here. */
import type { components } from './types';

type Shapes = components['schemas'];

export type About = Shapes['AboutOut'];
export type Accepted = Shapes['AcceptedOut'];
export type Answer = Shapes['AnswerOut'];
export type Case = Shapes['CaseOut'];
export type Change = Shapes['ChangeOut'];
export type Conflict = Shapes['ConflictOut'];
export type Conflicts = Shapes['Conflicts'];
export type Edit = Shapes['EditIn'];
export type Fault = Shapes['FaultOut'];
export type Field = Shapes['FieldOut'];
export type Listed = Shapes['ListedOut'];
export type Need = Shapes['NeedOut'];
export type Quantity = Shapes['QuantityOut'];
export type Revision = Shapes['RevisionOut'];
export type Saved = Shapes['SavedOut'];
export type Sheet = Shapes['SheetOut'];
export type Step = Shapes['StepOut'];
export type Table = Shapes['TableOut'];
export type Work = Shapes['WorkOut'];
export type { Shapes };
