namespace FabLink.Engineering.BoltUp;

/// <summary>
/// One supporting plane of the distance of one hole: for |p| ≤ 1,
/// dist(v, slot) ≥ p·v − h·|p·d|. The direction p is in part a's axes.
/// </summary>
internal struct Cut
{
    public int Hole;
    public double X;
    public double Y;
    public double Weight;
}

/// <summary>
/// A proof at one angle: weights ≥ 0 that sum to 1 and whose weighted directions sum to zero. Because the shift
/// drops out, Σλ(p·(a − Rb) − c − h|p·d|) is below the worst violation of every move, at this and at every other angle.
/// </summary>
internal struct Dual
{
    public double Angle;

    /// <summary>The bound at <see cref="Angle"/> itself.</summary>
    public double Lower;

    public Cut First;
    public Cut Second;
    public Cut Third;

    /// <summary>The bound as a function of the angle, in the frame that carries further.</summary>
    public RotationBound Bound;

    /// <summary>The arc around <see cref="Angle"/> on which the bound stays above the target it was made for.</summary>
    public double From;

    /// <summary>The other end of that arc.</summary>
    public double To;
}
