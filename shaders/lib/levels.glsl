// Pair of Levels and Volume in tonemap/operator.py: what every operator is told beside its parameters.

struct Levels {
    float source_black;
    float source_peak;
    float target_black;
    float target_peak;
};

struct Volume {
    mat3 to_target;
    mat3 from_target;
};
