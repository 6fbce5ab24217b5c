/** How a bench is wired, and what holds the shaft now. */
export function Wiring({ shaft }: { shaft: 'locked' | 'free' | 'any' }) {
  const words = {
    locked: 'the shaft is clamped',
    free: 'the shaft turns freely behind a guard',
    any: 'the shaft is clamped or free as the test asks',
  }[shaft]
  return (
    <svg
      class="wiring"
      viewBox="0 0 640 330"
      role="img"
      aria-label={`Supply through an emergency stop and fuse to the rig, from the rig to the motor; ${words}; the rig's USB cable goes to this computer`}
    >
      <g fill="none" stroke="var(--ink)" stroke-width="3">
        <path d="M118 96H170M214 96H262" stroke="var(--current)" />
        <path d="M118 136H262" />
        <path d="M382 96H446" stroke="var(--current)" />
        <path d="M382 136H446" />
        <path
          d="M322 176V262H148"
          stroke="var(--quiet)"
          stroke-width="2.5"
          stroke-dasharray="7 5"
        />
        <path d="M566 142V214H352V176" stroke="var(--speed)" stroke-width="2.5" />
      </g>
      <g fill="var(--plate)" stroke="var(--edge-strong)" stroke-width="2.5">
        <rect x="18" y="76" width="100" height="80" rx="8" />
        <rect x="262" y="66" width="120" height="110" rx="8" />
        <rect x="446" y="72" width="92" height="88" rx="10" />
        <rect x="50" y="232" width="98" height="62" rx="8" />
      </g>
      <path d="M538 116H620" stroke="var(--ink)" stroke-width="9" />
      <rect x="560" y="92" width="12" height="50" fill="var(--speed)" rx="3" />
      <circle cx="192" cy="96" r="22" fill="var(--stop)" stroke="var(--ink)" stroke-width="2.5" />
      <path d="M183 87h18v18h-18z" fill="var(--stop-ink)" />
      <g text-anchor="middle">
        <text x="68" y="112">
          Supply
        </text>
        <text x="68" y="133" class="note">
          fused
        </text>
        <text x="192" y="58">
          Emergency stop
        </text>
        <text x="192" y="152" class="note" dy="10">
          cuts the supply
        </text>
        <text x="322" y="110">
          Rig
        </text>
        <text x="322" y="132" class="note">
          bridge, V, A
        </text>
        <text x="492" y="113">
          Motor
        </text>
        <text x="492" y="134" class="note">
          clamped
        </text>
        <text x="99" y="260">
          This page
        </text>
        <text x="99" y="281" class="note">
          USB
        </text>
        <text x="458" y="236" class="note">
          speed sensor
        </text>
      </g>
      <text x="392" y="88" class="note">
        +
      </text>
      <text x="392" y="154" class="note">
        −
      </text>
      <Shaft shaft={shaft} />
    </svg>
  )
}

function Shaft({ shaft }: { shaft: 'locked' | 'free' | 'any' }) {
  if (shaft === 'locked') {
    return (
      <g>
        <path
          d="M592 60h40v36h-40zM592 136h40v36h-40z"
          fill="var(--edge-strong)"
          stroke="var(--ink)"
          stroke-width="2.5"
        />
        <text x="612" y="48" text-anchor="middle">
          Locked
        </text>
      </g>
    )
  }
  return (
    <g fill="none" stroke="var(--act)" stroke-width="3">
      <path d="M584 62h50v108h-50" stroke-dasharray="6 5" />
      <path d="M600 100a18 18 0 1 1 0 32" />
      <path d="M606 124l-6 8 9 4" />
      <text x="610" y="48" text-anchor="middle" stroke="none" fill="var(--ink)">
        {shaft === 'free' ? 'Free' : 'Guard'}
      </text>
    </g>
  )
}
