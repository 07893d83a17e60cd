// Light of the main lamp that a pixel's thread sends to the viewer.
uniform vec4 u_dye[BLOCKS];      // albedo; gloss
uniform int u_kind[BLOCKS];
uniform vec3 u_lamp;             // irradiance and colour, exposed by white card
uniform vec3 u_side;             // the two sides next to the lamp's azimuth, and how far it is from the first
uniform float u_clear;           // share of light that passes over what stands in the way: high lamps

vec3 from_lamp(vec4 lies, float sides, int block, highp sampler2D table) {
  ivec4 step = ivec4(lies * 255.0 + 0.5);
  vec4 texel = texelFetch(table, ivec2(step.x + AZIMUTHS * step.z, u_kind[block] * TILTS + step.y), 0);
  float volume = (texel.r * 65280.0 + texel.g * 255.0) * (TOP / 65535.0);
  float surface = texel.b * texel.b * TOP;
  vec3 albedo = u_dye[block].rgb;
  // A dye takes its part from light as often as it passes; above 1 it stands for what neighbours send on.
  vec3 dyed = mix(albedo, pow(albedo, vec3(texel.a * DEPTH_TOP)), lessThan(albedo, vec3(1.0)));
  int bits = int(sides * 255.0 + 0.5);
  float first = float((bits >> int(u_side.x)) & 1), second = float((bits >> int(u_side.y)) & 1);
  float reached = mix(mix(first, second, u_side.z), 1.0, u_clear);
  float body = (float(step.w) + 0.5) / float(BODIES);
  return u_lamp * (dyed * volume + u_dye[block].a * surface) * (body * reached);
}
